//! The lower, the nominal and the upper end of everything uncertain.

use crate::units::Span;

/// Which end a track stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// Nothing is colder.
    Lower,
    /// Every factor at its middle, half of each spot.
    Nominal,
    /// Nothing is hotter.
    Upper,
}

impl Side {
    /// `flux` times the factor of `span` that is worst for this side. Fluxes of one row that share
    /// a factor are summed before this is called.
    pub(super) fn worst(self, span: Span, flux: f32) -> f32 {
        self.factor(span, flux) * flux
    }

    /// The factor [`Side::worst`] takes.
    pub(super) fn factor(self, span: Span, flux: f32) -> f32 {
        match (self, flux > 0.0) {
            (Self::Nominal, _) => span.middle(),
            (Self::Lower, true) | (Self::Upper, false) => span.low,
            (Self::Lower, false) | (Self::Upper, true) => span.high,
        }
    }

    /// The end of `span` on this side.
    pub(super) fn end(self, span: Span) -> f32 {
        self.factor(span, 1.0)
    }

    /// The lower of two on the lower side, the higher on the upper, the first on the nominal.
    pub(super) fn further(self, first: f32, second: f32) -> f32 {
        match self {
            Self::Lower => first.min(second),
            Self::Nominal => first,
            Self::Upper => first.max(second),
        }
    }

    /// -1 on the lower side, 0 on the nominal, 1 on the upper.
    pub(super) fn sign(self) -> f32 {
        match self {
            Self::Lower => -1.0,
            Self::Nominal => 0.0,
            Self::Upper => 1.0,
        }
    }

    /// While parts may be inside or not: a flux they can only fail to add.
    pub(super) fn perhaps(self, flux: f32) -> f32 {
        match self {
            Self::Lower => flux.min(0.0),
            Self::Nominal => flux,
            Self::Upper => flux.max(0.0),
        }
    }
}

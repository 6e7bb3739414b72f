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
        self.pick(flux > 0.0, || span.low, || span.high)
    }

    /// `flux` times what may be left of a factor that is at most 1.
    pub(super) fn left(self, least: f32, flux: f32) -> f32 {
        self.worst(Span { low: least, high: 1.0 }, flux)
    }

    /// [`Side::factor`] of ends that are worked out only where they are needed.
    pub(super) fn pick(
        self,
        gains: bool,
        low: impl FnOnce() -> f32,
        high: impl FnOnce() -> f32,
    ) -> f32 {
        match (self, gains) {
            (Self::Nominal, _) => Span { low: low(), high: high() }.middle(),
            (Self::Lower, true) | (Self::Upper, false) => low(),
            (Self::Lower, false) | (Self::Upper, true) => high(),
        }
    }

    /// What is least for one is greatest for the other.
    pub(super) fn opposite(self) -> Self {
        match self {
            Self::Lower => Self::Upper,
            Self::Nominal => Self::Nominal,
            Self::Upper => Self::Lower,
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

//! The number in front of a unit: decimals, fractions, and both together.

/// A finite number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Number(pub(super) f64);

/// Why there is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NumberError {
    /// No number where one should start.
    Missing,
    /// Not-a-number or an infinity, spelled out or by size.
    NotFinite,
    /// A fraction over nothing.
    ZeroBelow,
}

impl Number {
    /// Reads `-1.5e3`, `1/2`, `1 1/2`, `1-1/2`, `1½`; gives what follows.
    pub(super) fn read(text: &str) -> Result<(Self, &str), NumberError> {
        let (sign, rest) = sign(text.trim_start());
        refuse_words(rest)?;
        if let Some((part, rest)) = vulgar(rest) {
            return Ok((Self(sign * part), rest));
        }
        let (digits, rest) = decimal(rest).ok_or(NumberError::Missing)?;
        let value: f64 = digits.parse().map_err(|_| NumberError::Missing)?;
        if !value.is_finite() {
            return Err(NumberError::NotFinite);
        }
        let whole = digits.bytes().all(|b| b.is_ascii_digit());
        if whole {
            if let Some(below) = rest.strip_prefix('/')
                && below.starts_with(|c: char| c.is_ascii_digit())
            {
                let (below, rest) = denominator(below)?;
                return Ok((Self(sign * value / below), rest));
            }
            if let Some((part, rest)) = fraction_after(rest)? {
                return Ok((Self(sign * (value + part)), rest));
            }
        }
        Ok((Self(sign * value), rest))
    }
}

fn sign(text: &str) -> (f64, &str) {
    if let Some(rest) = text.strip_prefix(['-', '−', '–']) {
        (-1.0, rest.trim_start())
    } else {
        (1.0, text.strip_prefix('+').unwrap_or(text))
    }
}

/// `nan`, `inf` and `infinity` are words some readers take for numbers.
fn refuse_words(text: &str) -> Result<(), NumberError> {
    let word: String =
        text.chars().take_while(|c| c.is_alphabetic()).collect::<String>().to_lowercase();
    if ["nan", "inf", "infinity", "infinite"].contains(&word.as_str()) || text.starts_with('∞') {
        return Err(NumberError::NotFinite);
    }
    Ok(())
}

/// One of the ready-made fractions.
fn vulgar(text: &str) -> Option<(f64, &str)> {
    let parts = [('½', 0.5), ('¼', 0.25), ('¾', 0.75), ('⅛', 0.125), ('⅜', 0.375), ('⅝', 0.625)];
    parts.iter().find_map(|&(c, part)| Some((part, text.strip_prefix(c)?)))
}

/// The digits, point and exponent at the start.
fn decimal(text: &str) -> Option<(&str, &str)> {
    let digits = |from: usize| text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let before = digits(0);
    let mut end = before;
    if text[end..].starts_with('.') {
        let after = digits(end + 1);
        if before + after == 0 {
            return None;
        }
        end += 1 + after;
    }
    if end == 0 {
        return None;
    }
    if text[end..].starts_with(['e', 'E']) {
        let signed = usize::from(text[end + 1..].starts_with(['+', '-']));
        let exponent = digits(end + 1 + signed);
        if exponent > 0 {
            end += 1 + signed + exponent;
        }
    }
    text.split_at_checked(end)
}

fn denominator(text: &str) -> Result<(f64, &str), NumberError> {
    let count = text.bytes().take_while(u8::is_ascii_digit).count();
    let (digits, rest) = text.split_at_checked(count).ok_or(NumberError::Missing)?;
    let value: f64 = digits.parse().map_err(|_| NumberError::Missing)?;
    if value > 0.0 { Ok((value, rest)) } else { Err(NumberError::ZeroBelow) }
}

/// A fraction behind a whole number: ` 1/2`, `-1/2`, `½`.
fn fraction_after(text: &str) -> Result<Option<(f64, &str)>, NumberError> {
    let rest = text.trim_start();
    if let Some(found) = vulgar(rest) {
        return Ok(Some(found));
    }
    let rest = if rest.len() < text.len() { rest } else { rest.strip_prefix('-').unwrap_or(rest) };
    let count = rest.bytes().take_while(u8::is_ascii_digit).count();
    let Some((above, below)) = rest.split_at_checked(count) else { return Ok(None) };
    if count == 0 || rest.len() == text.len() {
        return Ok(None);
    }
    let Some(below) = below.strip_prefix('/') else { return Ok(None) };
    if !below.starts_with(|c: char| c.is_ascii_digit()) {
        return Ok(None);
    }
    let above: f64 = above.parse().map_err(|_| NumberError::Missing)?;
    let (below, rest) = denominator(below)?;
    Ok(Some((above / below, rest)))
}

//! Quantities: whole minutes, and exact decimals for amperes, volts, ohms and metres.
//!
//! Nothing here is a float. Figures are taken exactly as written in the job, and sums of
//! costs, charges and battery hold-up are rational numbers, so that a plan recomputed by
//! other hands gives the same tenth.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{FromPrimitive, One, Signed, ToPrimitive, Zero};
use std::fmt;
use std::ops::{Add, AddAssign, Neg, Sub};

/// An exact rational number.
pub type Exact = BigRational;

/// Whole minutes: an instant counted from the job's epoch, or a length of time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Minutes(pub i64);

impl Minutes {
    /// No time at all, or the epoch itself.
    pub const ZERO: Minutes = Minutes(0);

    /// The same number as an exact rational.
    pub fn exact(self) -> Exact {
        whole(self.0)
    }
}

impl Add for Minutes {
    type Output = Minutes;
    fn add(self, other: Minutes) -> Minutes {
        Minutes(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Minutes {
    fn add_assign(&mut self, other: Minutes) {
        *self = *self + other;
    }
}

impl Sub for Minutes {
    type Output = Minutes;
    fn sub(self, other: Minutes) -> Minutes {
        Minutes(self.0.saturating_sub(other.0))
    }
}

impl Neg for Minutes {
    type Output = Minutes;
    fn neg(self) -> Minutes {
        Minutes(self.0.saturating_neg())
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} min", self.0)
    }
}

/// A half-open stretch of time `[from, to)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Period {
    /// First minute inside.
    pub from: Minutes,
    /// First minute after it.
    pub to: Minutes,
}

impl Period {
    /// The stretch from `from` to `to`, both in minutes since the epoch.
    pub fn new(from: i64, to: i64) -> Period {
        Period { from: Minutes(from), to: Minutes(to) }
    }

    /// How long it is.
    pub fn length(self) -> Minutes {
        self.to - self.from
    }

    /// Whether the instant `t` lies inside.
    pub fn contains(self, t: Minutes) -> bool {
        self.from <= t && t < self.to
    }

    /// Whether the two share a minute.
    pub fn overlaps(self, other: Period) -> bool {
        self.from < other.to && other.from < self.to
    }

    /// The minutes of any of `all`, in order of time: joined where they overlap or touch.
    pub fn merged(all: impl IntoIterator<Item = Period>) -> Vec<Period> {
        let mut all: Vec<Period> = all.into_iter().collect();
        all.sort_unstable();
        let mut merged: Vec<Period> = Vec::new();
        for period in all {
            match merged.last_mut() {
                Some(last) if period.from <= last.to => last.to = last.to.max(period.to),
                _ => merged.push(period),
            }
        }
        merged
    }
}

/// A whole number as an exact rational.
pub fn whole(n: i64) -> Exact {
    Exact::from_integer(BigInt::from(n))
}

/// The exact value of a decimal as people and JSON write it (`0.1`, `-3`, `1.5e3`), or `None`.
///
/// An exponent beyond ±400 is refused: it is no quantity of this trade, and would be a way to
/// fill the memory.
pub fn decimal(text: &str) -> Option<Exact> {
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((m, e)) => (m, e.parse::<i32>().ok().filter(|e| e.abs() <= 400)?),
        None => (text, 0),
    };
    let (sign, digits) = match mantissa.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, mantissa),
    };
    let (before, after) = digits.split_once('.').unwrap_or((digits, ""));
    if before.is_empty() || !before.bytes().chain(after.bytes()).all(|b| b.is_ascii_digit()) {
        return None;
    }
    let number: BigInt = format!("{before}{after}").parse().ok()?;
    let shift = exponent - i32::try_from(after.len()).ok()?;
    let power = Exact::from_integer(BigInt::from(10).pow(shift.unsigned_abs()));
    let value = Exact::from_integer(number * sign);
    Some(if shift < 0 { value / power } else { value * power })
}

/// Rounded to a tenth, halves up, as the planning model prints costs.
pub fn tenths(value: &Exact) -> Exact {
    let ten = whole(10);
    let half = Exact::new(BigInt::one(), BigInt::from(2));
    (value * &ten + half).floor() / ten
}

/// Written with `places` decimals, halves up.
pub fn fixed(value: &Exact, places: u32) -> String {
    let scale = Exact::from_integer(BigInt::from(10).pow(places));
    let half = Exact::new(BigInt::one(), BigInt::from(2));
    let scaled = (value * scale + half).floor().to_integer();
    let digits = format!("{:0>width$}", scaled.abs().to_string(), width = places as usize + 1);
    let (before, after) = digits.split_at(digits.len() - places as usize);
    let sign = if scaled.is_negative() { "-" } else { "" };
    if after.is_empty() { format!("{sign}{before}") } else { format!("{sign}{before}.{after}") }
}

/// Written as the shortest decimal that has exactly this value, or to nine places where none does.
pub fn plain(value: &Exact) -> String {
    (0..9)
        .find(|places| (value * Exact::from_integer(BigInt::from(10).pow(*places))).is_integer())
        .map_or_else(|| fixed(value, 9), |places| fixed(value, places))
}

macro_rules! quantity {
    ($($name:ident $unit:literal $doc:literal;)*) => {$(
        #[doc = $doc]
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(pub Exact);

        impl $name {
            /// Nothing.
            pub fn zero() -> Self {
                Self(Exact::zero())
            }

            /// From a decimal as written, or `None` if it is none.
            pub fn read(text: &str) -> Option<Self> {
                decimal(text).map(Self)
            }

            /// The nearest float, for pictures only.
            pub fn approx(&self) -> f64 {
                self.0.to_f64().unwrap_or(f64::NAN)
            }
        }

        impl From<i64> for $name {
            fn from(n: i64) -> Self {
                Self(Exact::from_i64(n).unwrap_or_else(Exact::zero))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!("{} ", $unit), plain(&self.0))
            }
        }
    )*};
}

quantity! {
    Amperes "A" "A current, in amperes.";
    Volts "V" "A voltage, in volts.";
    Ohms "Ω" "An impedance, in ohms.";
    Metres "m" "A length, in metres.";
}

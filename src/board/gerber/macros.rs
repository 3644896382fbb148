//! The size of an aperture that is made by a macro: the box round its exposed shapes.
//!
//! Primitives 1 (circle), 4 (outline), 5 (polygon), 7 (thermal), 20 (line by its ends) and 21
//! (line by its centre), variables `$1` and arithmetic `+ - x / ( )`; from memory.

use std::collections::BTreeMap;

use crate::board::model::{Land, LandShape};

/// Most macros of one file, and statements of one macro.
const MAX_MACROS: usize = 2_000;
const MAX_STATEMENTS: usize = 500;

/// Characters of statements that are worked out for one file. A file uses some thousands; the
/// limit keeps one with huge macros and many apertures from costing minutes.
const BUDGET: usize = 5_000_000;

/// Deepest nesting of an expression.
const MAX_DEPTH: usize = 32;

/// Macros by name.
#[derive(Debug)]
pub(super) struct Macros {
    statements: BTreeMap<String, Vec<String>>,
    open: String,
    budget: usize,
}

impl Default for Macros {
    fn default() -> Self {
        Self {
            statements: BTreeMap::new(),
            open: String::new(),
            budget: BUDGET,
        }
    }
}

impl Macros {
    /// A macro begins.
    pub(super) fn begin(&mut self, name: &str) {
        self.open = name.trim().to_owned();
        if self.statements.len() < MAX_MACROS {
            self.statements.insert(self.open.clone(), Vec::new());
        }
    }

    /// A statement of the macro that began last.
    pub(super) fn add(&mut self, statement: &str) {
        if let Some(all) = self.statements.get_mut(&self.open)
            && all.len() < MAX_STATEMENTS
        {
            let plain = statement.chars().filter(|c| !c.is_whitespace());
            all.push(plain.collect());
        }
    }

    /// The land that a macro makes with these values; `None` where it cannot be worked out.
    pub(super) fn land(&mut self, name: &str, values: &[f64]) -> Option<Land> {
        let statements = self.statements.get(name)?;
        let cost: usize = statements.iter().map(|s| s.len() + 1).sum();
        self.budget = self.budget.checked_sub(cost)?;
        let mut variables: BTreeMap<u32, f64> = (1..).zip(values.iter().copied()).collect();
        let mut extent = Extent::default();
        for statement in statements {
            if let Some((variable, value)) =
                statement.strip_prefix('$').and_then(|s| s.split_once('='))
            {
                let value = evaluate(value, &variables)?;
                variables.insert(variable.parse().ok()?, value);
            } else if !statement.starts_with('0') && !statement.is_empty() {
                let fields = statement
                    .split(',')
                    .map(|field| evaluate(field, &variables))
                    .collect::<Option<Vec<f64>>>()?;
                extent.primitive(&fields)?;
            }
        }
        extent.land()
    }
}

/// The box round what was drawn so far.
struct Extent {
    low: [f64; 2],
    high: [f64; 2],
    only_round: bool,
}

impl Default for Extent {
    fn default() -> Self {
        Self {
            low: [f64::INFINITY; 2],
            high: [f64::NEG_INFINITY; 2],
            only_round: true,
        }
    }
}

impl Extent {
    fn primitive(&mut self, fields: &[f64]) -> Option<()> {
        let get = |i: usize| fields.get(i).copied();
        let code = get(0)?;
        // Exposure 0 takes away: what is left is no larger.
        if code != 7.0 && get(1)? == 0.0 {
            return Some(());
        }
        if code == 1.0 {
            self.add([get(3)?, get(4)?], get(5).unwrap_or(0.0), get(2)? / 2.0);
        } else if code == 5.0 {
            self.add([get(3)?, get(4)?], get(6)?, get(5)? / 2.0);
        } else if code == 7.0 {
            self.add([get(1)?, get(2)?], get(6)?, get(3)? / 2.0);
        } else if code == 20.0 {
            let (from, to) = ([get(3)?, get(4)?], [get(5)?, get(6)?]);
            let along = [to[0] - from[0], to[1] - from[1]];
            let length = along[0].hypot(along[1]);
            let half = get(2)? / 2.0;
            let across = if length > 0.0 {
                [-along[1] / length * half, along[0] / length * half]
            } else {
                [0.0, half]
            };
            for end in [from, to] {
                for sign in [-1.0, 1.0] {
                    let corner = [end[0] + sign * across[0], end[1] + sign * across[1]];
                    self.corner(corner, get(7)?);
                }
            }
        } else if code == 21.0 {
            let half = [get(2)? / 2.0, get(3)? / 2.0];
            for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
                let corner = [get(4)? + x * half[0], get(5)? + y * half[1]];
                self.corner(corner, get(6)?);
            }
        } else if code == 4.0 {
            let corners = fields.get(3..fields.len().checked_sub(1)?)?;
            if corners.len() as f64 != 2.0 * (get(2)? + 1.0) {
                return None;
            }
            for corner in corners.chunks_exact(2) {
                self.corner([corner[0], corner[1]], *fields.last()?);
            }
        } else {
            return None;
        }
        Some(())
    }

    fn corner(&mut self, at: [f64; 2], turn_deg: f64) {
        self.only_round = false;
        self.add(at, turn_deg, 0.0);
    }

    /// A round shape, turned about the origin with its macro.
    fn add(&mut self, at: [f64; 2], turn_deg: f64, radius: f64) {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let at = [at[0] * cos - at[1] * sin, at[0] * sin + at[1] * cos];
        for axis in 0..2 {
            self.low[axis] = self.low[axis].min(at[axis] - radius);
            self.high[axis] = self.high[axis].max(at[axis] + radius);
        }
    }

    fn land(&self) -> Option<Land> {
        let size = [0, 1].map(|axis| self.high[axis] - self.low[axis]);
        let possible = size.iter().all(|v| v.is_finite() && *v > 0.0 && *v <= 1e4);
        let shape = if !self.only_round {
            LandShape::Rect
        } else if size[0] == size[1] {
            LandShape::Round
        } else {
            LandShape::Oval
        };
        possible.then_some(Land { shape, size })
    }
}

fn evaluate(text: &str, variables: &BTreeMap<u32, f64>) -> Option<f64> {
    let mut expression = Expression {
        bytes: text.as_bytes(),
        at: 0,
        depth: 0,
        variables,
    };
    let value = expression.sum()?;
    (expression.at == text.len() && value.is_finite()).then_some(value)
}

struct Expression<'a> {
    bytes: &'a [u8],
    at: usize,
    depth: usize,
    variables: &'a BTreeMap<u32, f64>,
}

impl Expression<'_> {
    fn take(&mut self, wanted: &[u8]) -> Option<u8> {
        let byte = *self.bytes.get(self.at)?;
        let found = wanted.contains(&byte).then_some(byte);
        self.at += usize::from(found.is_some());
        found
    }

    fn sum(&mut self) -> Option<f64> {
        let mut value = self.product()?;
        while let Some(sign) = self.take(b"+-") {
            let term = self.product()?;
            value += if sign == b'+' { term } else { -term };
        }
        Some(value)
    }

    fn product(&mut self) -> Option<f64> {
        let mut value = self.factor()?;
        while let Some(sign) = self.take(b"xX/") {
            let factor = self.factor()?;
            value = if sign == b'/' {
                value / factor
            } else {
                value * factor
            };
        }
        Some(value)
    }

    fn factor(&mut self) -> Option<f64> {
        self.depth += 1;
        if self.depth > MAX_DEPTH {
            return None;
        }
        let value = match self.take(b"+-($") {
            Some(b'+') => self.factor(),
            Some(b'-') => self.factor().map(|value| -value),
            Some(b'(') => {
                let value = self.sum()?;
                self.take(b")").map(|_| value)
            }
            Some(_) => {
                let number: u32 = self.digits().parse().ok()?;
                // A variable that was not set is 0.
                Some(self.variables.get(&number).copied().unwrap_or(0.0))
            }
            None => self.digits().parse().ok(),
        };
        self.depth -= 1;
        value
    }

    /// Digits and points from here on.
    fn digits(&mut self) -> &str {
        let start = self.at;
        while self
            .bytes
            .get(self.at)
            .is_some_and(|b| b.is_ascii_digit() || *b == b'.')
        {
            self.at += 1;
        }
        std::str::from_utf8(&self.bytes[start..self.at]).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn land(statements: &[&str], values: &[f64]) -> Option<([f64; 2], LandShape)> {
        let mut macros = Macros::default();
        macros.begin("M");
        statements.iter().for_each(|s| macros.add(s));
        macros.land("M", values).map(|land| (land.size, land.shape))
    }

    #[test]
    fn the_box_round_each_shape() {
        assert_eq!(
            land(&["1,1,$1,0,0"], &[1.5]),
            Some(([1.5, 1.5], LandShape::Round))
        );
        assert_eq!(
            land(&["21,1,$1,$2,0,0,90"], &[2.0, 1.0]).map(|(size, _)| size.map(f64::round)),
            Some([1.0, 2.0])
        );
        assert_eq!(
            land(&["20,1,0.5,0,0,2,0,0"], &[]),
            Some(([2.0, 0.5], LandShape::Rect))
        );
        assert_eq!(
            land(&["4,1,3,0,0,2,0,2,1,0,0,0"], &[]),
            Some(([2.0, 1.0], LandShape::Rect))
        );
        // A rectangle with rounded corners: an outline and four circles.
        let rounded = [
            "0 comment",
            "$5=$1x2",
            "21,1,$3,$4-$5,0,0,0",
            "21,1,$3-$5,$4,0,0,0",
            "1,1,$5,$3/2-$1,($4-$5)/2",
        ];
        assert_eq!(
            land(&rounded, &[0.25, 0.0, 2.0, 1.0]),
            Some(([2.0, 1.0], LandShape::Rect))
        );
    }

    #[test]
    fn what_cannot_be_worked_out_has_no_size() {
        for statement in [
            "1,1,$1",
            "9,1,1",
            "1,1,1/0,0,0",
            "1,1,((1,0,0",
            "4,1,9,0,0,1,1,0",
            "1,1,-1,0,0",
        ] {
            assert_eq!(land(&[statement], &[1.0]), None, "{statement}");
        }
        let deep = format!("1,1,{}1,0,0", "-".repeat(1000));
        assert_eq!(land(&[&deep], &[]), None);
        assert_eq!(Macros::default().land("none", &[]), None);
    }
}

//! Commands between `%`: format, unit, apertures, attributes, blocks.

use super::aperture::{self, Aperture, MAX_APERTURES};
use super::attributes::Attributes;
use super::layer::Function;
use super::plot::{MAX_DEPTH, Plot, REWRITE, Wrong, wrong};
use super::words;
use crate::board::import::{LengthUnit, quoted};

impl Plot {
    pub(super) fn extended(&mut self, text: &str) -> Result<(), Wrong> {
        if self.attribute(text)? {
            return Ok(());
        }
        let (name, rest) = text.split_at_checked(2).unwrap_or((text, ""));
        match name {
            "FS" => {
                let format =
                    words::format(rest).or_else(|(reason, remedy)| wrong(reason, remedy))?;
                if self.format.is_some_and(|earlier| earlier != format) {
                    return wrong("a second, other coordinate format", REWRITE);
                }
                self.format = Some(format);
                Ok(())
            }
            "MO" => self.state_unit(match rest {
                "MM" => LengthUnit::Mm,
                "IN" => LengthUnit::Inch,
                _ => return wrong("the unit is neither MM nor IN", "write MOMM or MOIN"),
            }),
            "AD" => self.define(rest),
            "AB" => self.block(rest),
            "SR" => self.copies(rest),
            "LR" => self.number(rest).map(|turn| self.turn_deg = turn),
            "LS" => {
                let scale = self.number(rest)?;
                if !(1e-3..=1e3).contains(&scale) {
                    return wrong("an impossible scale", REWRITE);
                }
                self.scale = scale;
                Ok(())
            }
            "LP" | "LM" | "AM" | "LN" | "IN" | "IP" => Ok(()),
            "AS" | "OF" | "MI" | "SF" | "IR" => {
                let plain = match name {
                    "AS" => rest == "AXBY",
                    "SF" => rest
                        .chars()
                        .all(|c| matches!(c, 'A' | 'B' | '1' | '0' | '.')),
                    _ => rest.bytes().all(|b| !(b'1'..=b'9').contains(&b)),
                };
                if plain {
                    Ok(())
                } else {
                    wrong(
                        format!("`{name}` moves or turns the whole picture, which is not read"),
                        REWRITE,
                    )
                }
            }
            _ => wrong(
                format!("`{}` is no command that is known", quoted(text)),
                "is it the right file? write it again in today's form of the format",
            ),
        }
    }

    /// Takes `TF`, `TA`, `TO`, `TD`; false where it is none of them.
    pub(super) fn attribute(&mut self, text: &str) -> Result<bool, Wrong> {
        let Some((kind, rest)) = text.split_at_checked(2) else {
            return Ok(false);
        };
        match kind {
            "TF" => self.of_file(rest),
            "TA" => self.of_aperture.set(rest),
            "TO" => self.of_object.set(rest),
            "TD" => {
                self.of_aperture.delete(rest);
                self.of_object.delete(rest);
            }
            _ => return Ok(false),
        }
        Ok(true)
    }

    pub(super) fn of_file(&mut self, text: &str) {
        let mut one = Attributes::default();
        one.set(text);
        if let Some(fields) = one.get(".FileFunction") {
            self.layer.function = Function::of(fields);
        }
        if one.get(".SameCoordinates").is_some() {
            self.layer.same_coordinates = Some(one.first(".SameCoordinates").to_owned());
        }
        if let Some(fields) = one.get(".ProjectId") {
            self.layer.project = Some(fields.join(","));
        }
    }

    pub(super) fn state_unit(&mut self, unit: LengthUnit) -> Result<(), Wrong> {
        if self.unit.is_some_and(|earlier| earlier != unit) {
            return wrong("the unit changes within the file", REWRITE);
        }
        if self.used_coordinates && self.unit.is_none() {
            return wrong(
                "the unit is stated behind the first coordinates or sizes",
                REWRITE,
            );
        }
        if self.answered.is_some_and(|told| told != unit) {
            return wrong(
                format!("the file is in {unit}, which is not what was answered"),
                "leave the answer out",
            );
        }
        self.unit = Some(unit);
        Ok(())
    }

    /// Millimetres of a length of the file.
    pub(super) fn mm(&mut self, value: f64) -> f64 {
        if !self.used_coordinates {
            self.used_coordinates = true;
            self.unit = self.unit.or(self.answered);
        }
        self.unit.unwrap_or(LengthUnit::Mm).to_mm(value)
    }

    pub(super) fn define(&mut self, text: &str) -> Result<(), Wrong> {
        let (code, mut defined) = aperture::define(text, &mut self.macros)
            .or_else(|reason| wrong(reason, "mend the definition, or write the file again"))?;
        if self.apertures.len() >= MAX_APERTURES {
            return wrong(
                format!("more than {MAX_APERTURES} apertures"),
                "is it the right file?",
            );
        }
        if let Some(land) = &mut defined.land {
            land.size = land.size.map(|v| self.mm(v));
        }
        defined.hole = defined.hole.map(|hole| self.mm(hole));
        if let Some(fields) = self.of_aperture.get(".AperFunction") {
            let field = |i: usize| fields.get(i).cloned().unwrap_or_default();
            (defined.function, defined.detail) = (field(0), field(1));
        }
        self.apertures.insert(code, defined);
        Ok(())
    }

    /// `ABD12` opens an aperture block, `AB` closes it. What is drawn in one is an aperture, not
    /// a part of the board.
    pub(super) fn block(&mut self, rest: &str) -> Result<(), Wrong> {
        if rest.is_empty() {
            self.depth = match self.depth.checked_sub(1) {
                Some(depth) => depth,
                None => return wrong("an aperture block ends that never began", REWRITE),
            };
            return Ok(());
        }
        let code = rest.strip_prefix('D').and_then(|code| code.parse().ok());
        let Some(code) = code else {
            return wrong("an aperture block without its number", REWRITE);
        };
        if self.depth >= MAX_DEPTH {
            return wrong(
                format!("aperture blocks are nested more than {MAX_DEPTH} deep"),
                "is it the right file?",
            );
        }
        self.depth += 1;
        if self.apertures.len() < MAX_APERTURES {
            let block = Aperture {
                land: None,
                boxed: false,
                hole: None,
                function: String::new(),
                detail: String::new(),
            };
            self.apertures.insert(code, block);
        }
        Ok(())
    }

    /// `SRX2Y3I..J..` repeats what follows; only the first copy is taken.
    pub(super) fn copies(&mut self, rest: &str) -> Result<(), Wrong> {
        let count = |mark: char| {
            let (_, behind) = rest.split_once(mark)?;
            let digits = behind.bytes().take_while(u8::is_ascii_digit).count();
            behind[..digits].parse::<usize>().ok()
        };
        if !rest.is_empty() {
            let (x, y) = (count('X').unwrap_or(1), count('Y').unwrap_or(1));
            self.layer.copies = self.layer.copies.max(x.saturating_mul(y));
        }
        Ok(())
    }

    pub(super) fn number(&self, text: &str) -> Result<f64, Wrong> {
        text.trim()
            .parse::<f64>()
            .ok()
            .filter(|value| value.is_finite() && value.abs() <= 1e4)
            .map_or_else(
                || wrong(format!("`{}` is not a number", quoted(text)), REWRITE),
                Ok,
            )
    }
}

//! EXIF: what the camera wrote about the photo. Broken EXIF is a warning, never an error.
//!
//! Tags are those of Exif 2.32 (CIPA DC-008; numbers as listed in the project's notes, from
//! memory): Orientation 0x0112, DateTimeOriginal 0x9003, SubSecTimeOriginal 0x9291,
//! OffsetTimeOriginal 0x9011, FocalLength 0x920A, FocalLengthIn35mmFilm 0xA405.

use std::io::Cursor;

use exif::{Exif, In, Tag, Value};
use jiff::civil::DateTime;

/// Longest camera name that is kept; longer ones are cut (hostile or broken files).
const MAX_NAME_CHARS: usize = 80;
/// DNGVersion: only raw files carry it.
const DNG_VERSION: Tag = Tag(exif::Context::Tiff, 0xC612);
/// NewSubfileType: bit 0 marks a reduced-size stand-in for another picture in the file.
const NEW_SUBFILE_TYPE: Tag = Tag(exif::Context::Tiff, 0x00FE);

/// What the EXIF block says, checked.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Notes {
    /// 1..=8; 0 where the file says nothing.
    pub(super) orientation: u8,
    pub(super) taken: Option<String>,
    pub(super) taken_offset: Option<String>,
    pub(super) camera: Option<String>,
    pub(super) focal_mm: Option<f64>,
    pub(super) focal_35mm: Option<f64>,
    /// A TIFF that is a camera raw file.
    pub(super) raw: bool,
    pub(super) warnings: Vec<String>,
}

/// Reads the EXIF block of a picture file (or of its beginning).
pub(super) fn parse(bytes: &[u8]) -> (Option<Exif>, Vec<String>) {
    let mut warnings = Vec::new();
    let mut reader = exif::Reader::new();
    reader.continue_on_error(true);
    let parsed = reader
        .read_from_container(&mut Cursor::new(bytes))
        .or_else(|error| {
            error.distill_partial_result(|errors| {
                warnings.push(format!(
                    "the EXIF block is damaged in {} place(s)",
                    errors.len()
                ));
            })
        });
    match parsed {
        Ok(exif) => (Some(exif), warnings),
        Err(exif::Error::NotFound(_)) => (None, warnings),
        // Formats that have no place for EXIF.
        Err(exif::Error::InvalidFormat("Unknown image format")) => (None, warnings),
        Err(error) => {
            warnings.push(format!("the EXIF block cannot be read ({error})"));
            (None, warnings)
        }
    }
}

/// Reads and checks everything that is wanted from the EXIF block.
pub(super) fn read(bytes: &[u8]) -> Notes {
    let (exif, warnings) = parse(bytes);
    let mut notes = Notes {
        orientation: 1,
        warnings,
        ..Notes::default()
    };
    let Some(exif) = exif else {
        return notes;
    };
    notes.orientation = orientation(&exif, &mut notes.warnings);
    take_time(&exif, &mut notes);
    notes.camera = camera(&exif);
    notes.focal_mm = number(&exif, Tag::FocalLength);
    notes.focal_35mm = number(&exif, Tag::FocalLengthIn35mmFilm);
    notes.raw = exif.get_field(DNG_VERSION, In::PRIMARY).is_some()
        || exif
            .get_field(NEW_SUBFILE_TYPE, In::PRIMARY)
            .and_then(|field| field.value.get_uint(0))
            .is_some_and(|kind| kind & 1 == 1);
    notes
}

/// The orientation, 1..=8; anything else is taken as 1 with a warning.
pub(super) fn orientation(exif: &Exif, warnings: &mut Vec<String>) -> u8 {
    let Some(field) = exif.get_field(Tag::Orientation, In::PRIMARY) else {
        return 1;
    };
    match field.value.get_uint(0) {
        Some(value @ 1..=8) => u8::try_from(value).unwrap_or(1),
        Some(value) => {
            warnings.push(format!(
                "orientation {value} does not exist (1 to 8 do): the photo is shown as stored"
            ));
            1
        }
        None => {
            warnings.push("the orientation is no number: the photo is shown as stored".to_owned());
            1
        }
    }
}

/// First string of an ASCII field; `None` where absent or blank, as Exif writes "unknown".
fn text(exif: &Exif, tag: Tag) -> Option<String> {
    let field = exif.get_field(tag, In::PRIMARY)?;
    let Value::Ascii(strings) = &field.value else {
        return None;
    };
    let raw = strings.first()?;
    let end = raw.iter().position(|&b| b == 0).unwrap_or(raw.len());
    let text: String = String::from_utf8_lossy(&raw[..end])
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(MAX_NAME_CHARS)
        .collect();
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    (!text.is_empty()).then_some(text)
}

/// A positive number; zero is Exif's "unknown".
fn number(exif: &Exif, tag: Tag) -> Option<f64> {
    let field = exif.get_field(tag, In::PRIMARY)?;
    let value = match &field.value {
        Value::Rational(values) => values.first()?.to_f64(),
        value => f64::from(value.get_uint(0)?),
    };
    (value.is_finite() && value > 0.0).then_some(value)
}

/// Make and model in one line; the make is left out where the model begins with it.
fn camera(exif: &Exif) -> Option<String> {
    match (text(exif, Tag::Make), text(exif, Tag::Model)) {
        (Some(make), Some(model)) => {
            let first = make.split(' ').next().unwrap_or_default().to_lowercase();
            if model.to_lowercase().starts_with(&first) {
                Some(model)
            } else {
                Some(format!("{make} {model}"))
            }
        }
        (make, model) => model.or(make),
    }
}

/// The time when taken, as the camera's clock showed it.
fn take_time(exif: &Exif, notes: &mut Notes) {
    let sources = [
        (
            Tag::DateTimeOriginal,
            Tag::SubSecTimeOriginal,
            Tag::OffsetTimeOriginal,
        ),
        (
            Tag::DateTimeDigitized,
            Tag::SubSecTimeDigitized,
            Tag::OffsetTimeDigitized,
        ),
    ];
    for (time, fraction, offset) in sources {
        let Some(stated) = text(exif, time).filter(|t| t.bytes().any(|b| b.is_ascii_digit()))
        else {
            continue;
        };
        if stated.starts_with("0000:00:00") {
            continue; // an unset clock
        }
        let Some(taken) = civil_time(&stated, text(exif, fraction).as_deref()) else {
            notes
                .warnings
                .push(format!("the time when taken is no time: \"{stated}\""));
            continue;
        };
        notes.taken = Some(taken);
        if let Some(stated) = text(exif, offset) {
            notes.taken_offset = utc_offset(&stated);
            if notes.taken_offset.is_none() && stated.bytes().any(|b| b.is_ascii_digit()) {
                notes
                    .warnings
                    .push(format!("the UTC offset is no offset: \"{stated}\""));
            }
        }
        return;
    }
}

/// `YYYY:MM:DD HH:MM:SS` and a fraction as digits, to `YYYY-MM-DDTHH:MM:SS[.fff]`; `None` where
/// no such moment is on the calendar.
fn civil_time(stated: &str, fraction: Option<&str>) -> Option<String> {
    let digits = |range: std::ops::Range<usize>| -> Option<i16> {
        let part = stated.get(range)?;
        part.bytes()
            .all(|b| b.is_ascii_digit())
            .then(|| part.parse().ok())?
    };
    let small = |range| digits(range).and_then(|v| i8::try_from(v).ok());
    let marks = stated.as_bytes();
    if marks.len() != 19 || [4, 7, 13, 16].iter().any(|&i| !b":-".contains(&marks[i])) {
        return None;
    }
    let time = DateTime::new(
        digits(0..4)?,
        small(5..7)?,
        small(8..10)?,
        small(11..13)?,
        small(14..16)?,
        small(17..19)?,
        0,
    )
    .ok()?;
    let mut out = time.strftime("%Y-%m-%dT%H:%M:%S").to_string();
    if let Some(fraction) = fraction.filter(|f| f.bytes().all(|b| b.is_ascii_digit())) {
        // Digits after the point: "5" is half a second. Kept to the millisecond.
        out.push_str(&format!(".{:0<3.3}", fraction));
    }
    Some(out)
}

/// `+hh:mm` or `-hh:mm` within a day, or `None`.
fn utc_offset(stated: &str) -> Option<String> {
    let bytes = stated.as_bytes();
    let &[sign @ (b'+' | b'-'), h1, h0, b':', m1, m0] = bytes else {
        return None;
    };
    let two = |tens: u8, ones: u8| {
        (tens.is_ascii_digit() && ones.is_ascii_digit()).then(|| (tens - b'0') * 10 + ones - b'0')
    };
    let (hours, minutes) = (two(h1, h0)?, two(m1, m0)?);
    (hours <= 23 && minutes <= 59).then(|| format!("{}{hours:02}:{minutes:02}", char::from(sign)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_civil_and_checked() {
        assert_eq!(
            civil_time("2024:05:01 09:30:00", Some("7")).as_deref(),
            Some("2024-05-01T09:30:00.700")
        );
        assert_eq!(
            civil_time("2024:02:29 23:59:59", None).as_deref(),
            Some("2024-02-29T23:59:59")
        );
        assert_eq!(
            civil_time("2024:05:01 09:30:00", Some("123456")).as_deref(),
            Some("2024-05-01T09:30:00.123")
        );
        assert_eq!(civil_time("2023:02:29 00:00:00", None), None);
        assert_eq!(civil_time("2024:05:01 25:00:00", None), None);
        assert_eq!(civil_time("yesterday at noon!!", None), None);
        assert_eq!(civil_time("2024:05:0\u{e9} 9:30:00", None), None);
    }

    #[test]
    fn offsets_are_checked() {
        assert_eq!(utc_offset("+05:30").as_deref(), Some("+05:30"));
        assert_eq!(utc_offset("-00:00").as_deref(), Some("-00:00"));
        for bad in ["Z", "+5:30", "+24:00", "+01:60", "", "   :  "] {
            assert_eq!(utc_offset(bad), None, "{bad}");
        }
    }
}

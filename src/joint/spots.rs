//! Where the joints are: a list that a person clicked, or that the map gave.

use std::collections::HashSet;

use crate::geometry::PhotoPoint;

use super::JointError;

/// Most joints in one list. A 12 MP photo cannot show a tenth of this at a readable size, so a
/// longer list is a mistake, and the limit keeps a hostile file from filling the memory.
pub const MAX_SPOTS: usize = 100_000;

/// Largest accepted coordinate or radius, px: beyond any photo that the photo room opens.
const MAX_PX: f64 = 1.0e6;

/// Longest accepted joint name, characters.
const MAX_ID: usize = 200;

/// One joint in one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct JointSpot {
    /// Name of the joint, unique in its list (a reference such as `J4.3`, or a number).
    pub id: String,
    /// Middle of the land (or of the pin), upright photo pixels.
    pub centre: PhotoPoint,
    /// Radius of the land's rim, px.
    pub land_radius_px: f64,
    /// Radius of the pin, px, where somebody marked it.
    pub pin_radius_px: Option<f64>,
    /// Scale of the photo at this joint, px/mm, where the photo is aligned.
    pub px_per_mm: Option<f64>,
    /// How far from square the board is seen here, degrees, where the photo is aligned.
    pub tilt_deg: Option<f64>,
}

/// Reads a list of joints: `id,x_px,y_px,land_radius_px[,pin_radius_px][,px_per_mm]` by header
/// name, in any order, other columns ignored. A byte-order mark and CRLF line ends are accepted.
///
/// `name` is the file's name, for the messages only.
///
/// # Errors
/// [`JointError`] naming file, line, column and remedy: a missing column, a value that is not a
/// finite number or out of range, a name that is empty or stands twice, no joints, too many.
pub fn read_joints_csv(bytes: &[u8], name: &str) -> Result<Vec<JointSpot>, JointError> {
    let body = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(body);
    let header = reader.headers().map_err(|e| not_csv(name, &e))?.clone();
    let columns = Columns::find(&header, name)?;
    let mut spots = Vec::new();
    let mut seen = HashSet::new();
    for record in reader.records() {
        let record = record.map_err(|e| not_csv(name, &e))?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let row = Row {
            record: &record,
            file: name,
            line: line_of(&record, body),
        };
        let spot = columns.spot(&row)?;
        if !seen.insert(spot.id.clone()) {
            return Err(row.bad(
                "id",
                format!("`{}` stands there twice", shown(&spot.id)),
                "give each joint its own name",
            ));
        }
        if spots.len() >= MAX_SPOTS {
            return Err(JointError::TooMany {
                file: name.to_owned(),
                limit: MAX_SPOTS,
            });
        }
        spots.push(spot);
    }
    if spots.is_empty() {
        return Err(JointError::Empty {
            file: name.to_owned(),
        });
    }
    Ok(spots)
}

struct Columns {
    id: usize,
    x: usize,
    y: usize,
    land: usize,
    pin: Option<usize>,
    scale: Option<usize>,
}

impl Columns {
    fn find(header: &csv::StringRecord, file: &str) -> Result<Self, JointError> {
        let place = |column: &'static str| -> Result<Option<usize>, JointError> {
            let mut hits = header
                .iter()
                .enumerate()
                .filter(|(_, n)| n.eq_ignore_ascii_case(column));
            let first = hits.next().map(|(i, _)| i);
            if hits.next().is_some() {
                return Err(JointError::DoubleColumn {
                    file: file.to_owned(),
                    column,
                });
            }
            Ok(first)
        };
        let must = |column: &'static str| {
            place(column)?.ok_or(JointError::MissingColumn {
                file: file.to_owned(),
                column,
            })
        };
        Ok(Self {
            id: must("id")?,
            x: must("x_px")?,
            y: must("y_px")?,
            land: must("land_radius_px")?,
            pin: place("pin_radius_px")?,
            scale: place("px_per_mm")?,
        })
    }

    fn spot(&self, row: &Row<'_>) -> Result<JointSpot, JointError> {
        let id = row.record.get(self.id).unwrap_or("").to_owned();
        if id.is_empty() {
            return Err(row.bad("id", "empty".to_owned(), "give each joint its own name"));
        }
        if id.chars().count() > MAX_ID {
            return Err(row.bad(
                "id",
                format!("longer than {MAX_ID} characters"),
                "use a short name",
            ));
        }
        let x = row.number(self.x, "x_px")?;
        let y = row.number(self.y, "y_px")?;
        let land_radius_px = row.radius(self.land, "land_radius_px")?;
        let pin_radius_px = match self.pin {
            Some(i) if !row.record.get(i).unwrap_or("").is_empty() => {
                Some(row.radius(i, "pin_radius_px")?)
            }
            _ => None,
        };
        let px_per_mm = match self.scale {
            Some(i) if !row.record.get(i).unwrap_or("").is_empty() => {
                Some(row.radius(i, "px_per_mm")?)
            }
            _ => None,
        };
        Ok(JointSpot {
            id,
            centre: PhotoPoint::new(x, y),
            land_radius_px,
            pin_radius_px,
            px_per_mm,
            tilt_deg: None,
        })
    }
}

struct Row<'a> {
    record: &'a csv::StringRecord,
    file: &'a str,
    line: u64,
}

impl Row<'_> {
    fn bad(&self, column: &'static str, problem: String, remedy: &'static str) -> JointError {
        JointError::BadValue {
            file: self.file.to_owned(),
            line: self.line,
            column,
            problem,
            remedy,
        }
    }

    fn number(&self, at: usize, column: &'static str) -> Result<f64, JointError> {
        const REMEDY: &str =
            "give pixels of the upright photo as a plain number, point as decimal mark";
        let text = self.record.get(at).unwrap_or("");
        let Ok(value) = text.parse::<f64>() else {
            return Err(self.bad(column, format!("`{}` is not a number", shown(text)), REMEDY));
        };
        if !value.is_finite() || value.abs() > MAX_PX {
            return Err(self.bad(
                column,
                format!("`{}` is no usable number of pixels", shown(text)),
                REMEDY,
            ));
        }
        Ok(value)
    }

    fn radius(&self, at: usize, column: &'static str) -> Result<f64, JointError> {
        let value = self.number(at, column)?;
        if value <= 0.0 {
            return Err(self.bad(
                column,
                format!("{value} is not above zero"),
                "give it in pixels, above zero",
            ));
        }
        Ok(value)
    }
}

/// Line of a record's first field: the reader's own count starts at the empty lines before it.
fn line_of(record: &csv::StringRecord, body: &[u8]) -> u64 {
    let Some(position) = record.position() else {
        return 0;
    };
    let start = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let blank = body
        .get(start..)
        .unwrap_or(&[])
        .iter()
        .take_while(|b| matches!(b, b'\r' | b'\n'));
    position.line() + blank.filter(|b| **b == b'\n').count() as u64
}

/// Hostile text shortened and made printable for a message.
fn shown(text: &str) -> String {
    let mut out: String = text.chars().take(40).flat_map(char::escape_debug).collect();
    if text.chars().count() > 40 {
        out.push('…');
    }
    out
}

fn not_csv(file: &str, error: &csv::Error) -> JointError {
    let line = error.position().map_or(1, csv::Position::line);
    JointError::NotCsv {
        file: file.to_owned(),
        line,
        cause: error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Vec<JointSpot>, JointError> {
        read_joints_csv(text.as_bytes(), "J.csv")
    }

    #[test]
    fn mark_crlf_and_column_order_do_not_matter() {
        let spots = read("\u{feff}y_px,id,land_radius_px,x_px,note,pin_radius_px\r\n2.5,J1,24,1.5,\"a, b\",\r\n3,J2,20,4,,7\r\n").unwrap();
        assert_eq!(spots[0].centre, PhotoPoint::new(1.5, 2.5));
        assert_eq!(
            (spots[0].pin_radius_px, spots[1].pin_radius_px),
            (None, Some(7.0))
        );
    }

    #[test]
    fn each_fault_names_line_column_and_remedy() {
        let head = "id,x_px,y_px,land_radius_px\n";
        for (body, line, column) in [
            ("J1,1,2,NaN\n", 2, "land_radius_px"),
            ("J1,inf,2,3\n", 2, "x_px"),
            ("J1,1,2,3\nJ2,1,two,3\n", 3, "y_px"),
            ("J1,1,2,0\n", 2, "land_radius_px"),
            ("J1,1,2,3\n\nJ1,4,5,6\n", 4, "id"),
            ("J1,1,2\n", 2, "land_radius_px"),
            (",1,2,3\n", 2, "id"),
            ("J1,1e300,2,3\n", 2, "x_px"),
        ] {
            match read(&format!("{head}{body}")) {
                Err(JointError::BadValue {
                    file,
                    line: l,
                    column: c,
                    ..
                }) => {
                    assert_eq!((file.as_str(), l, c), ("J.csv", line, column), "{body}");
                }
                other => panic!("{body}: {other:?}"),
            }
        }
    }

    #[test]
    fn missing_column_nothing_and_not_text() {
        assert!(matches!(
            read("id,x_px,land_radius_px\n"),
            Err(JointError::MissingColumn { column: "y_px", .. })
        ));
        assert!(matches!(
            read(""),
            Err(JointError::MissingColumn { column: "id", .. })
        ));
        assert!(matches!(
            read("id,x_px,y_px,land_radius_px\n"),
            Err(JointError::Empty { .. })
        ));
        let bytes = b"id,x_px,y_px,land_radius_px\n\xff\xfe,1,2,3\n";
        assert!(matches!(
            read_joints_csv(bytes, "J.csv"),
            Err(JointError::NotCsv { .. })
        ));
    }

    #[test]
    fn too_many_joints_are_refused() {
        let mut text = String::from("id,x_px,y_px,land_radius_px\n");
        for i in 0..=MAX_SPOTS {
            text.push_str(&format!("J{i},1,2,3\n"));
        }
        assert!(matches!(read(&text), Err(JointError::TooMany { .. })));
    }
}

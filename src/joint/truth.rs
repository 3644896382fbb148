//! What is known of joints: a list that says which of them are cracked, and how that was found out.

use std::collections::HashMap;

use super::{JointError, MAX_SPOTS};

/// Reads a truth list: columns `id` and `cracked` (0/1, yes/no, true/false) by header name, in any order,
/// other columns ignored. A byte-order mark and CRLF line ends are accepted. Gives whether each named joint is
/// cracked. Joints whose `cracked` is empty are left out: nobody knows.
///
/// `name` is the file's name, for the messages only.
///
/// # Errors
/// [`JointError`] naming file, line, column and remedy.
pub fn read_truth_csv(bytes: &[u8], name: &str) -> Result<HashMap<String, bool>, JointError> {
    let body = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(body);
    let not_csv = |e: &csv::Error| JointError::NotCsv {
        file: name.to_owned(),
        line: e.position().map_or(1, csv::Position::line),
        cause: e.to_string(),
    };
    let header = reader.headers().map_err(|e| not_csv(&e))?.clone();
    let column = |wanted: &'static str| {
        let mut places = header
            .iter()
            .enumerate()
            .filter(|(_, h)| h.eq_ignore_ascii_case(wanted))
            .map(|(i, _)| i);
        let first = places.next().ok_or(JointError::NoTruthColumn {
            file: name.to_owned(),
            column: wanted,
        })?;
        match places.next() {
            Some(_) => Err(JointError::DoubleColumn {
                file: name.to_owned(),
                column: wanted,
            }),
            None => Ok(first),
        }
    };
    let (id_at, cracked_at) = (column("id")?, column("cracked")?);
    let mut truth = HashMap::new();
    for record in reader.records() {
        let record = record.map_err(|e| not_csv(&e))?;
        let line = record.position().map_or(0, csv::Position::line);
        let bad = |column, problem: String, remedy| JointError::BadValue {
            file: name.to_owned(),
            line,
            column,
            problem,
            remedy,
        };
        if record.iter().all(str::is_empty) {
            continue;
        }
        let id = record.get(id_at).unwrap_or("");
        if id.is_empty() {
            return Err(bad(
                "id",
                "the joint has no name".to_owned(),
                "name it as in the list of joints",
            ));
        }
        let value = record.get(cracked_at).unwrap_or("");
        let cracked = match value.to_ascii_lowercase().as_str() {
            "1" | "yes" | "true" => true,
            "0" | "no" | "false" => false,
            "" => continue,
            _ => {
                return Err(bad(
                    "cracked",
                    format!(
                        "`{}` is neither 0 nor 1",
                        value.chars().take(40).collect::<String>()
                    ),
                    "write 1 for cracked, 0 for not cracked, nothing where nobody knows",
                ));
            }
        };
        if truth.insert(id.to_owned(), cracked).is_some() {
            return Err(bad(
                "id",
                format!(
                    "`{}` stands there twice",
                    id.chars().take(40).collect::<String>()
                ),
                "keep one line per joint",
            ));
        }
        if truth.len() > MAX_SPOTS {
            return Err(JointError::TooMany {
                file: name.to_owned(),
                limit: MAX_SPOTS,
            });
        }
    }
    Ok(truth)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn truth_is_read_by_name_and_unknown_is_left_out() {
        let text = "\u{feff}depth,cracked,id\r\n0.4,1,J1\r\n,no,J2\r\n,,J3\r\n";
        let truth = read_truth_csv(text.as_bytes(), "t.csv").unwrap();
        assert_eq!(truth.len(), 2);
        assert!(truth["J1"] && !truth["J2"]);
    }

    #[test]
    fn bad_truth_names_file_line_and_remedy() {
        for (text, wanted) in [
            ("id,broken\nJ1,1\n", "no column `cracked`"),
            ("id,cracked\nJ1,maybe\n", "t.csv, line 2, column cracked"),
            ("id,cracked\nJ1,1\nJ1,0\n", "twice"),
            ("id,cracked\n,1\n", "no name"),
        ] {
            let error = read_truth_csv(text.as_bytes(), "t.csv")
                .unwrap_err()
                .to_string();
            assert!(error.contains(wanted), "{error}");
        }
    }

    proptest! {
        #[test]
        fn never_panics(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let _any = read_truth_csv(&bytes, "t.csv");
        }
    }
}

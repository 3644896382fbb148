//! The slip's CSV against RFC 4180 ("Common Format and MIME Type for CSV Files", October 2005,
//! section 2, rules by number) and the prefix rule of the OWASP community page "CSV Injection"
//! (leading `= + - @` TAB CR and, since 2025, LF). Rules from memory of both texts.

use benchglass::paper::{CsvFlavour, csv_text};
use proptest::prelude::*;

fn rows(cells: &[&[&str]]) -> Vec<Vec<String>> {
    cells
        .iter()
        .map(|row| row.iter().map(|cell| (*cell).to_owned()).collect())
        .collect()
}

fn raw(cells: &[&[&str]]) -> String {
    csv_text(&rows(cells), CsvFlavour::Raw).unwrap()
}

fn sheet(cell: &str) -> String {
    csv_text(&rows(&[&["x", cell]]), CsvFlavour::Spreadsheet).unwrap()
}

/// Rules 1 and 2: each record on a line of its own, ended by CRLF, the last one too.
#[test]
fn rules_1_and_2_records_end_in_crlf() {
    assert_eq!(
        raw(&[&["aaa", "bbb"], &["ccc", "ddd"]]),
        "aaa,bbb\r\nccc,ddd\r\n"
    );
}

/// Rules 3 and 4: a header like any record; the same number of fields throughout; spaces count.
#[test]
fn rule_4_spaces_belong_to_the_field_and_ragged_records_are_refused() {
    assert_eq!(raw(&[&[" a ", "b"]]), " a ,b\r\n");
    assert!(csv_text(&rows(&[&["a", "b"], &["c"]]), CsvFlavour::Raw).is_err());
}

/// Rule 6: fields with line breaks, quotes or commas are quoted.
#[test]
fn rule_6_breaks_quotes_and_commas_are_quoted() {
    assert_eq!(
        raw(&[&["aaa", "b\r\nbb", "c,c"]]),
        "aaa,\"b\r\nbb\",\"c,c\"\r\n"
    );
}

/// Rule 7: a quote inside a quoted field is doubled.
#[test]
fn rule_7_quotes_are_doubled() {
    assert_eq!(raw(&[&["aaa", "b\"bb", "ccc"]]), "aaa,\"b\"\"bb\",ccc\r\n");
}

/// OWASP: the cell starts with `'` inside the quotes, quotes in it are doubled, and a separator
/// cannot start a second cell.
#[test]
fn formulas_are_disarmed_inside_the_quotes() {
    for lead in ["=", "+", "-", "@", "\t", "\r", "\n"] {
        let cell = format!("{lead}cmd|' /C calc'!A0");
        assert_eq!(sheet(&cell), format!("\"x\",\"'{cell}\"\r\n"), "{lead:?}");
    }
    assert_eq!(sheet("=1+1\";=2,@3"), "\"x\",\"'=1+1\"\";=2,@3\"\r\n");
}

/// OWASP's rule would spoil plain numbers: those proven numeric are left.
#[test]
fn plain_numbers_stay_numbers() {
    assert_eq!(sheet("-12.0"), "\"x\",-12.0\r\n");
    assert_eq!(sheet("-12.0.1"), "\"x\",\"'-12.0.1\"\r\n");
    assert_eq!(sheet("-1+cmd"), "\"x\",\"'-1+cmd\"\r\n");
}

proptest! {
    #[test]
    fn any_text_comes_back_from_raw_csv(cells in prop::collection::vec(any::<String>(), 2..5)) {
        let text = csv_text(std::slice::from_ref(&cells), CsvFlavour::Raw).unwrap();
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        let back: Vec<String> = reader.records().next().unwrap().unwrap().iter().map(str::to_owned).collect();
        prop_assert_eq!(back, cells);
    }

    #[test]
    fn no_spreadsheet_cell_starts_like_a_formula(cell in "[=+@\t\r\n-]?[ -~]{0,20}") {
        let text = sheet(&cell);
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        let back = reader.records().next().unwrap().unwrap()[1].to_owned();
        let number = back.parse::<f64>().is_ok();
        prop_assert!(number || !back.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']));
        let disarmed = format!("'{cell}");
        prop_assert!(back == cell || back == disarmed);
    }
}

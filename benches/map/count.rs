//! Clicks and keys that a map of the real board `joystick_solder_a.jpg` takes, each carried out on
//! the real state of the window's page: nothing is counted that was not done.

use benchglass::board::draft::DraftError;
use benchglass::board::{FindingSeverity, PartKind};
use benchglass::desk::mapping::{Making, Tool};
use benchglass::geometry::PhotoPoint;
use image::RgbImage;

/// How far a click falls from the middle of the joint, px on the photo, root mean square along
/// each axis: two points on the screen where the whole photo fills the table (assumed).
const CLICK_PX: f64 = 5.0;

/// A person who counts.
struct Hand<'a> {
    making: Making,
    image: &'a RgbImage,
    joints: Vec<PhotoPoint>,
    clicks: usize,
    keys: usize,
    seed: u64,
    before: Vec<f64>,
    after: Vec<f64>,
}

impl Hand<'_> {
    /// Normally spread noise (Box and Muller 1958, from memory), seeded.
    fn noise(&mut self) -> f64 {
        let mut unit = || {
            self.seed = self
                .seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((self.seed >> 11) as f64 + 0.5) / (1u64 << 53) as f64
        };
        let (a, b) = (unit(), unit());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos() * CLICK_PX
    }

    fn click(&mut self, joint: usize) -> Result<(), DraftError> {
        let truth = self.joints[joint];
        let raw = PhotoPoint::new(truth.x + self.noise(), truth.y + self.noise());
        let meant = self.making.meant(raw, 18.0, Some(self.image));
        self.before.push((raw - truth).length());
        self.after.push((meant - truth).length());
        self.clicks += 1;
        self.making.click(meant, false, 18.0)
    }

    fn tool(&mut self, tool: Tool) {
        self.keys += 1;
        self.making.take(tool);
    }

    fn kind(&mut self, kind: PartKind) -> Result<(), DraftError> {
        self.keys += 1;
        let parts = self.making.chosen.clone();
        self.making
            .apply(&benchglass::board::draft::Edit::Kind { parts, kind })?;
        Ok(())
    }
}

/// Makes the map and prints what it took.
pub(super) fn board(
    photo: &std::path::Path,
    list: &std::path::Path,
) -> Result<(), Box<dyn std::error::Error>> {
    let image = benchglass::photo::open(photo)?.image;
    let mut joints = Vec::new();
    for line in std::fs::read_to_string(list)?.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        joints.push(PhotoPoint::new(cells[1].parse()?, cells[2].parse()?));
    }
    let size = [image.width(), image.height()];
    let mut hand = Hand {
        making: Making::new("photo".to_owned(), size, "joystick adapter", "main"),
        image: &image,
        joints,
        clicks: 0,
        keys: 0,
        seed: 12,
        before: Vec::new(),
        after: Vec::new(),
    };
    // The scale: both ends of the row of twelve, then 1 2 Enter.
    hand.click(0)?;
    hand.click(11)?;
    hand.making.lengths[0] = "12".to_owned();
    hand.keys += 3;
    hand.making.enter()?;
    // The module: two rows of twelve.
    hand.tool(Tool::Package);
    for joint in [11, 0, 20] {
        if let Err(error) = hand.click(joint) {
            super::say(&format!("refused: {error}"));
        }
    }
    if hand.making.map().parts.is_empty() {
        // Esc, and the other way round.
        hand.keys += 1;
        hand.making.clicks.clear();
        for joint in [0, 11, 20] {
            hand.click(joint)?;
        }
    }
    // Two connectors of nine: a row of five, then the four of the other row.
    for [five, four] in [[[28, 32], [24, 27]], [[33, 37], [38, 41]]] {
        hand.tool(Tool::Row);
        hand.click(five[0])?;
        hand.click(five[1])?;
        hand.kind(PartKind::Connector)?;
        hand.tool(Tool::MorePins);
        hand.click(four[0])?;
        hand.click(four[1])?;
    }
    // Two switches of two leads each.
    hand.tool(Tool::TwoLeads);
    for pair in [[42, 43], [44, 45]] {
        hand.click(pair[0])?;
        hand.click(pair[1])?;
        hand.kind(PartKind::Switch)?;
    }
    // Two joints that stand alone.
    hand.tool(Tool::OnePin);
    hand.click(46)?;
    hand.click(47)?;
    if let Some(edit) = hand.making.finish("joystick_solder_a.jpg") {
        hand.making.apply(&edit)?;
    }
    // Keep this map.
    hand.clicks += 1;
    tell(&hand);
    Ok(())
}

fn tell(hand: &Hand<'_>) {
    let making = &hand.making;
    let map = making.map();
    let pins: usize = map.parts.iter().map(|part| part.pins.len()).sum();
    let errors = making
        .findings
        .iter()
        .filter(|finding| finding.severity == FindingSeverity::Error)
        .count();
    super::say(&format!(
        "the board in the photo: {} parts, {pins} joints, {} clicks, {} keys, {errors} errors of the linter",
        map.parts.len(),
        hand.clicks,
        hand.keys
    ));
    for finding in &making.findings {
        super::say(&format!("  {finding}"));
    }
    let mut off: Vec<f64> = map
        .parts
        .iter()
        .flat_map(|part| &part.pins)
        .filter_map(|pin| making.draft.frame()?.photo(pin.centre()))
        .map(|at| {
            hand.joints
                .iter()
                .map(|joint| (*joint - at).length())
                .fold(f64::INFINITY, f64::min)
        })
        .collect();
    for (what, values) in [
        ("clicks as they fell", &mut hand.before.clone()),
        ("clicks drawn to the solder", &mut hand.after.clone()),
        ("joints of the map from the list's, px", &mut off),
    ] {
        values.sort_by(f64::total_cmp);
        let at = |share: f64| values[((values.len() - 1) as f64 * share).round() as usize];
        super::say(&format!(
            "  {what}: median {:.1}, p90 {:.1}, worst {:.1} px",
            at(0.5),
            at(0.9),
            at(1.0)
        ));
    }
}

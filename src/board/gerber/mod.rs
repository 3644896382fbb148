//! Gerber layers with X2 or X3 attributes: pads that say which pin of which part they are.
//!
//! Read are `FS`, `MO`, `AD` (C, R, O, P, and macros as the box round them), aperture selection, flashes, draws of a board profile
//! or a part's outline, `G04` comments with attributes (`#@!`, the X1 form), and `TF`, `TA`,
//! `TO`, `TD`. Other graphics are passed over. Coordinates are right-handed as seen from the
//! top, those of bottom layers included (source: a board maker's page on Gerber X3); the rules
//! of `.P`, `.C`, `ComponentMain`, `ComponentPin` and `.CRot` are from memory.
//!
//! Several files of one board may be given: both outer copper layers, component layers, the
//! profile, drill files in Gerber form. A pad that is on both copper layers, or says that it is
//! a component pad, or has a drill hit, is in a hole.

mod aperture;
mod attributes;
mod hits;
mod layer;
mod lexer;
mod macros;
mod merge;
mod plot;
mod profile;
mod statements;
#[cfg(test)]
mod tests;
mod words;

use super::import::{ImportError, ImportOptions, Imported, MapFormat, Source, assemble};

/// Largest file, bytes. A dense copper layer has some ten.
const MAX_BYTES: usize = 64 * 1024 * 1024;

/// Most files of one board: copper, components, profile and drills are below ten.
const MAX_FILES: usize = 40;

/// Makes a map from the Gerber files of one board.
///
/// # Errors
/// Names file, line and column; or asks.
pub fn import_gerber(sources: &[Source], options: &ImportOptions) -> Result<Imported, ImportError> {
    let name = sources
        .first()
        .map(|(path, _)| path.clone())
        .unwrap_or_default();
    if sources.len() > MAX_FILES {
        return Err(ImportError::Unfit {
            path: name,
            reason: format!("{} files are more than one board has", sources.len()),
            remedy: format!(
                "give at most {MAX_FILES}: copper, component, profile and drill layers"
            ),
        });
    }
    let mut layers = Vec::with_capacity(sources.len());
    for (path, bytes) in sources {
        if bytes.len() > MAX_BYTES {
            return Err(ImportError::TooLarge {
                path: path.clone(),
                limit: MAX_BYTES,
            });
        }
        layers.push(plot::read(bytes, path, options)?);
    }
    let sources = merge::merge(layers, options)?;
    assemble(sources, MapFormat::Gerber, &name, options)
}

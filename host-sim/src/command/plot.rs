//! `truesoak plot`: draw a log, alone or beside another.

use super::logged::{LogArguments, Logged};
use super::outputs::{failed, open_all};
use super::{Answer, Failure, Format, Globals, print};
use crate::report::plot::{self, Against, Picture};
use crate::report::{Written, recounted, text};
use std::path::PathBuf;

/// What to draw and where.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(flatten)]
    log: LogArguments,
    /// Draw it here: .svg, .png or .html; repeatable.
    #[arg(long, value_name = "F", required = true)]
    out: Vec<PathBuf>,
    /// Lay this log beside it, a rehearsal of the same bake.
    #[arg(long, value_name = "OTHER.csv")]
    against: Option<PathBuf>,
}

/// Draws it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let pictures = arguments.out.iter().map(|path| Picture::of(path).map_err(Failure::Input));
    let pictures = pictures.collect::<Result<Vec<_>, _>>()?;
    let logged = Logged::drawn(&arguments.log)?;
    let other = match &arguments.against {
        Some(path) => Some(Logged::drawn(&LogArguments::own(path))?),
        None => None,
    };
    let mut read = logged.read_paths();
    read.extend(arguments.against.as_deref());
    let outputs = open_all(&arguments.out, &read, &[])?;
    let story = logged.story(globals);
    let against = other.as_ref().map(|other| {
        let steps = (logged.result.steps.as_slice(), other.result.steps.as_slice());
        Against::new((&logged.log, steps.0), (&other.log, steps.1))
    });
    let mut written = Vec::new();
    for (output, picture) in outputs.iter().zip(&pictures) {
        let drawn = plot::draw_against(*picture, &logged.log, &story, against.as_ref(), &[]);
        let bytes = drawn.map_err(|error| failed(output, &error))?;
        output.put(&bytes).map_err(|error| failed(output, &error))?;
        written.push(Written { path: output.path().to_owned(), what: picture.what() });
    }
    let compared = against.map(|against| recounted::compared(&story, against.name, against.steps));
    print(&told(globals, &written, compared.as_deref().unwrap_or_default()))?;
    Ok(Answer::Yes)
}

fn told(globals: &Globals, written: &[Written], compared: &[Vec<String>]) -> String {
    match globals.format {
        Format::Json => {
            let file = |file: &Written| serde_json::json!({"path": file.path, "what": file.what});
            let files: Vec<_> = written.iter().map(file).collect();
            format!("{}\n", serde_json::json!({"schema": "truesoak.plot/1", "files": files}))
        }
        Format::Text if globals.quiet => String::new(),
        Format::Text => {
            let mut out = String::new();
            if !compared.is_empty() {
                text::table(&mut out, 0, compared);
            }
            for file in written {
                out.push_str(&format!("{} written: {}\n", file.path.display(), file.what));
            }
            out
        }
    }
}

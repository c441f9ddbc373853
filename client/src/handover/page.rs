//! The template, and the page made of it. Whatever a template prints is escaped,
//! so that no name of a customer or panel can put anything into the page.

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior};

use super::sheet::Sheet;

/// The template that is used unless a shop brings its own.
pub(crate) const BUILT_IN: &str = include_str!("sheet.html.jinja");

/// Why no page could be made.
#[derive(Debug, thiserror::Error)]
#[error("the template cannot be used")]
pub(crate) struct TemplateError(#[source] minijinja::Error);

/// The page. It names no other file and no other host, holds no script, and says
/// so to the browser.
///
/// # Errors
/// [`TemplateError`] with the line at fault: wrong syntax, or a name that the sheet
/// does not have.
pub(crate) fn page(sheet: &Sheet, template: &str) -> Result<String, TemplateError> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    // A misspelt name must not leave a hole that nobody sees.
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    // Lines that hold only a tag leave no line behind.
    let syntax = SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build()
        .map_err(TemplateError)?;
    environment.set_syntax(syntax);
    environment
        .render_named_str("sheet.html", template, Serde(sheet))
        .map_err(TemplateError)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::handover::sheet::{Job, Panel, Photo, Photos};

    #[test]
    fn the_built_in_template_fills_an_empty_sheet() {
        let page = page(&Sheet::default(), BUILT_IN).unwrap();
        assert!(page.starts_with("<!DOCTYPE html>"), "{page}");
    }

    #[test]
    fn whatever_is_printed_is_escaped() {
        let nasty = "<script>alert('1')</script>\"&";
        let sheet = Sheet {
            shop: nasty.to_owned(),
            job: Job {
                display_name: nasty.to_owned(),
                wishes: nasty.to_owned(),
                ..Job::default()
            },
            panels: vec![Panel {
                name: nasty.to_owned(),
                ..Panel::default()
            }],
            photos: vec![Photos {
                moment: "after".to_owned(),
                shown: vec![Photo {
                    alt: nasty.to_owned(),
                    ..Photo::default()
                }],
                left_out: Vec::new(),
            }],
            ..Sheet::default()
        };
        let page = page(&sheet, BUILT_IN).unwrap();
        assert!(!page.contains("<script"), "{page}");
        assert!(page.contains("&lt;script&gt;"));
        assert!(page.contains("&quot;&amp;"));
    }

    #[test]
    fn a_template_that_is_wrong_is_refused_with_its_line() {
        for bad in ["one\n{% if %}", "one\n{{ job.diplay_name }}"] {
            let error = page(&Sheet::default(), bad).unwrap_err();
            let text = crate::errors::chain(&error);
            assert!(
                text.contains("line 2") || text.contains("sheet.html:2"),
                "{text}"
            );
        }
    }
}

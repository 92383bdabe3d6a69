#![allow(clippy::unwrap_used, missing_docs)]
use ringmark_model::{Lens, Take};
use serde_json::Value;

use super::*;
use crate::picture::{LensPicture, Pictures, TakeGatherer};
use crate::samples;

fn report() -> HtmlReport {
    HtmlReport::new("ringmark 0.1.0", samples::RULES.to_vec())
}

fn pictured() -> Vec<FileReport> {
    let mut files = samples::reports();
    files[0].pictures = Some(Pictures {
        takes: vec![TakeGatherer::new(&Take::default()).finish()],
        lenses: vec![LensPicture::of(&Lens::default(), &[])],
    });
    files
}

/// The page without scripts, styles and the licence, which are files of their own.
fn page(files: &[FileReport]) -> String {
    let mut text = samples::made_of(&mut report(), files);
    for part in [PLOT_SCRIPT, SCRIPT, PLOT_STYLE, STYLE, PLOT_LICENCE] {
        assert_eq!(text.matches(part).count(), 1);
        text = text.replace(part, "…");
        let known = digest(part).replace('\'', "&#39;");
        text = text.replace(&known, "…");
    }
    text
}

/// The data of a file, as the script of the page reads it.
fn data(page: &str, id: &str) -> Value {
    let start = format!("<script type=\"application/json\" id=\"{id}\">");
    let (_, rest) = page.split_once(&start).unwrap();
    serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap()
}

#[test]
fn snapshot() {
    insta::assert_snapshot!(page(&pictured()));
}

#[test]
fn data_holds_what_the_text_report_says() {
    let page = page(&pictured());
    let first = data(&page, "d0");
    assert_eq!(first["findings"].as_array().unwrap().len(), 5);
    assert_eq!(first["findings"][0]["severity"], "error");
    assert!(
        first["findings"][0]["excerpt"]
            .as_str()
            .unwrap()
            .contains("A003C012.csv:6")
    );
    assert_eq!(first["pictures"]["takes"][0]["frames"], 0);
    let failed = data(&page, "d2");
    assert!(
        failed["failure"]["message"]
            .as_str()
            .unwrap()
            .contains("\n")
    );
    assert_eq!(data(&page, "d3")["left_out"], 12);
    assert_eq!(
        data(&page, "rules")["below-close-focus"]["title"],
        "A distance below close focus"
    );
}

#[test]
fn nothing_from_a_file_is_markup() {
    let evil = "</script><script>alert(1)</script><!-- <img src=x onerror=alert(1)> \" ' & ]]>";
    let mut files = pictured();
    files[0].file = evil.to_owned();
    files[0].takes = vec![evil.to_owned()];
    files[0].lenses = vec![evil.to_owned()];
    files[0].findings[0].message = evil.to_owned();
    files[0].findings[0].help = Some(evil.to_owned());
    let page = page(&files);
    assert!(!page.contains("<script>alert") && !page.contains("<img"));
    // Two scripts, four files, the rules: nothing else begins or ends one.
    assert_eq!(page.matches("<script").count(), 7);
    assert_eq!(page.matches("</script").count(), 7);
    assert_eq!(data(&page, "d0")["file"], evil);
}

#[test]
fn only_the_scripts_of_the_page_are_run() {
    let text = samples::made_of(&mut report(), &pictured());
    let (_, policy) = text
        .split_once("Content-Security-Policy\" content=\"")
        .unwrap();
    let policy = policy.split_once("\">").unwrap().0.replace("&#39;", "'");
    assert!(policy.starts_with("default-src 'none';"));
    assert!(!policy.contains("unsafe") && !policy.contains("http"));
    for script in text.split("<script>").skip(1) {
        let content = script.split_once("</script>").unwrap().0;
        assert!(policy.contains(&digest(content)), "{content:.80}");
    }
    for style in text.split("<style>").skip(1) {
        let content = style.split_once("</style>").unwrap().0;
        assert!(policy.contains(&digest(content)), "{content:.80}");
    }
    assert!(!text.contains("style=\"") && !text.contains("onclick"));
}

#[test]
fn an_interrupted_run_says_so() {
    let mut report = report();
    report.interrupted(Interrupted { checked: 1, of: 9 });
    let text = samples::made_of(&mut report, &pictured()[..1]);
    assert!(text.contains("class=\"failed\">interrupted: 1 of 9 inputs checked"));
}

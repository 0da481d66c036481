//! The content as one self-contained page: no script, nothing fetched, its style inside, laid out
//! for A4. It is well-formed XML as well as HTML, so that anything can read it.

mod fonts;

use crate::draw;
use crate::escape::{self, base64, text};
use crate::model::{
    Block, ColumnKind, Figure, Nature, PhotographKind, Plot, Report, Section, Table,
};
use std::fmt::Write as _;

const STYLE: &str = include_str!("style.css");

/// The report as a page.
pub fn html(report: &Report) -> String {
    let mut out = String::new();
    let title = text(&format!("{} – {}", report.title, report.survey));
    let margins = if report.one_page { "14mm 16mm 16mm" } else { "18mm 18mm 20mm" };
    let foot = escape::css(&report.foot);
    let body = if report.one_page { " class=\"one-page\"" } else { "" };
    let (faces, drawn) = (fonts::faces(), draw::STYLE);
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"generator\" content=\"stillroom report\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" \
         content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <title>{title}</title>\n<style>\n{faces}{STYLE}{drawn}\
         @page {{ size: A4; margin: {margins};\n\
         @bottom-left {{ content: \"{foot}\"; font: 7.4pt sans-serif; color: #59626b; }}\n\
         @bottom-right {{ content: counter(page) \" / \" counter(pages); font: 7.4pt sans-serif; \
         color: #59626b; }} }}\n</style>\n</head>\n<body{body}>\n<main>\n"
    );
    head(&mut out, report);
    for part in &report.sections {
        section(&mut out, part);
    }
    let _ = write!(out, "</main>\n<footer>{}</footer>\n</body>\n</html>\n", text(&report.foot));
    out
}

fn head(out: &mut String, report: &Report) {
    let (kind, name) = (text(&report.title), text(&report.survey));
    let _ = write!(out, "<header>\n<p class=\"kind\">{kind}</p>\n<h1>{name}</h1>\n<dl>\n");
    for (name, value) in &report.head {
        let _ = writeln!(out, "<dt>{}</dt><dd>{}</dd>", text(name), text(value));
    }
    out.push_str("</dl>\n</header>\n");
}

fn section(out: &mut String, section: &Section) {
    let (id, title) = (section.id, text(&section.title));
    let class = if section.new_page { " class=\"new-page\"" } else { "" };
    let _ = writeln!(out, "<section{class} aria-labelledby=\"{id}\">");
    let _ = if section.number.is_empty() {
        writeln!(out, "<h2 class=\"plain\" id=\"{id}\">{title}</h2>")
    } else {
        let number = text(&section.number);
        writeln!(
            out,
            "<h2 id=\"{id}\"><span class=\"number\">{number}</span> <span>{title}</span></h2>"
        )
    };
    for part in &section.blocks {
        block(out, part);
    }
    out.push_str("</section>\n");
}

fn block(out: &mut String, block: &Block) {
    let _ = match block {
        Block::Heading(title) => writeln!(out, "<h3>{}</h3>", text(title)),
        Block::Answer(said) => {
            let mark = mark(said.nature);
            writeln!(out, "<div class=\"row answer\">{mark}<p>{}</p></div>", text(&said.text))
        }
        Block::Paragraph(said) => {
            writeln!(
                out,
                "<div class=\"row\">{}<p>{}</p></div>",
                mark(said.nature),
                text(&said.text)
            )
        }
        Block::List(nature, lead, items) => {
            let lead = match *lead {
                "" => String::new(),
                lead => format!("<p>{}</p>\n", text(lead)),
            };
            let items: String =
                items.iter().map(|item| format!("<li>{}</li>\n", text(item))).collect();
            writeln!(
                out,
                "<div class=\"row\">{}<div>{lead}<ul>\n{items}</ul></div></div>",
                mark(*nature)
            )
        }
        Block::Caution(title, said) => writeln!(
            out,
            "<div class=\"row caution\"><span class=\"nature caution-mark\">caution</span><div>\
             <strong>{}</strong><p>{}</p></div></div>",
            text(title),
            text(said)
        ),
        Block::Values(nature, values) => {
            values_of(out, *nature, values);
            Ok(())
        }
        Block::Table(table) => {
            table_of(out, table);
            Ok(())
        }
        Block::Pictures(figures) => {
            let figures: String = figures
                .iter()
                .map(|figure| {
                    let caption = text(&figure.caption);
                    format!(
                        "<figure>{}<figcaption>{}<span>{caption}</span></figcaption></figure>\n",
                        picture(figure),
                        mark(figure.nature)
                    )
                })
                .collect();
            writeln!(out, "<div class=\"pictures\">\n{figures}</div>")
        }
        Block::Figure(figure) => writeln!(
            out,
            "<figure><figcaption>{}<span>{}</span></figcaption>\n{}</figure>",
            mark(figure.nature),
            text(&figure.caption),
            picture(figure)
        ),
    };
}

fn mark(nature: Nature) -> String {
    format!("<span class=\"nature {0}\">{0}</span>", nature.word())
}

/// A figure's drawing or photograph; its words stand in `title` or `alt`.
fn picture(figure: &Figure) -> String {
    let words = text(&figure.alternative);
    match (draw::drawing(&figure.plot), &figure.plot) {
        (None, Plot::Photograph(photograph)) => {
            let kind = match photograph.kind {
                PhotographKind::Jpeg => "jpeg",
                PhotographKind::Png => "png",
            };
            let bytes = base64(&photograph.bytes);
            format!("<img alt=\"{words}\" src=\"data:image/{kind};base64,{bytes}\"/>\n")
        }
        (Some(drawing), _) => format!(
            "<svg viewBox=\"0 0 {:.0} {:.0}\" role=\"img\" aria-label=\"{words}\">\
             <title>{words}</title>{}</svg>\n",
            drawing.width, drawing.height, drawing.marks
        ),
        (None, _) => String::new(),
    }
}

/// Names and values; where all values are counts, large figures side by side.
fn values_of(out: &mut String, nature: Nature, values: &[(String, String)]) {
    let counts = !values.is_empty() && values.iter().all(|(_, value)| value.parse::<u64>().is_ok());
    let class = if counts { " counts" } else { "" };
    let _ = writeln!(out, "<div class=\"row values{class}\">{}<dl>", mark(nature));
    for (name, value) in values {
        let pair = format!("<dt>{}</dt><dd>{}</dd>", text(name), text(value));
        let _ = match (counts, value.as_str()) {
            (true, "0") => writeln!(out, "<div class=\"none\">{pair}</div>"),
            (true, _) => writeln!(out, "<div>{pair}</div>"),
            (false, _) => writeln!(out, "{pair}"),
        };
    }
    out.push_str("</dl></div>\n");
}

fn table_of(out: &mut String, table: &Table) {
    let _ = write!(
        out,
        "<table>\n<caption><span>{}<span>{}</span></span></caption>\n<thead><tr>",
        mark(table.nature),
        text(&table.caption)
    );
    for column in &table.columns {
        let class = class_of(column.kind);
        let _ = write!(out, "<th scope=\"col\"{class}>{}</th>", text(column.name));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    let mut last: Option<&String> = None;
    for row in &table.rows {
        out.push_str("<tr>");
        for (i, (cell, column)) in row.iter().zip(&table.columns).enumerate() {
            let class = class_of(column.kind);
            let _ = match i {
                // Said again for those who read row by row and for the next page, only fainter.
                0 if last == Some(cell) => {
                    write!(out, "<th scope=\"row\" class=\"again\">{}</th>", text(cell))
                }
                0 => write!(out, "<th scope=\"row\"{class}>{}</th>", text(cell)),
                _ => write!(out, "<td{class}>{}</td>", text(cell)),
            };
        }
        last = row.first();
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
}

fn class_of(kind: ColumnKind) -> &'static str {
    match kind {
        ColumnKind::Text => "",
        ColumnKind::Wide => " class=\"wide\"",
        ColumnKind::Short => " class=\"short\"",
        ColumnKind::Number => " class=\"short number\"",
        ColumnKind::Code => " class=\"code\"",
    }
}

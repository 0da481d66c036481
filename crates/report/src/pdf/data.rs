//! The content as the typesetter's source reads it: one JSON file, and a file for each picture.

use super::Attachment;
use super::letters::Letters;
use crate::draw;
use crate::model::{
    Block, ColumnKind, Figure, Nature, Photograph, PhotographKind, Plot, Report, Section, Table,
};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use typst::foundations::Bytes;
use typst::visualize::{ExchangeFormat, RasterImage};

/// Letters of one cell beyond which more of them ask for no more width.
const WIDEST: f64 = 70.0;

/// Files by path.
#[derive(Default)]
pub(super) struct Files {
    pub(super) files: BTreeMap<String, Vec<u8>>,
    pictures: usize,
    letters: Letters,
}

impl Files {
    pub(super) fn of(report: &Report, attachments: &[Attachment], size_pt: f64) -> Files {
        let mut files = Files::default();
        let sections: Vec<Value> =
            report.sections.iter().map(|section| files.section(section)).collect();
        let mut attached = Vec::new();
        for (i, one) in attachments.iter().enumerate() {
            let path = format!("/attached-{i}");
            attached.push(json!({"data": path, "name": one.name, "type": one.media_type,
                                 "description": one.description}));
            files.files.insert(path, one.bytes.clone());
        }
        let letters = &mut files.letters;
        let mut head = Vec::new();
        for (name, value) in &report.head {
            head.push([letters.shown(name), letters.shown(value)]);
        }
        let content = json!({
            "title": letters.whole(&report.title), "survey": letters.whole(&report.survey),
            "author": report.author.as_deref().map(|author| letters.whole(author)),
            "head": head, "foot": letters.whole(&report.foot),
            "one_page": report.one_page, "size_pt": size_pt, "sections": sections,
            "attached": attached, "note": letters.note(),
        });
        files.files.insert("/content.json".into(), content.to_string().into_bytes());
        files
    }

    fn section(&mut self, section: &Section) -> Value {
        let blocks: Vec<Value> = section.blocks.iter().map(|block| self.block(block)).collect();
        json!({"number": section.number, "title": self.letters.shown(&section.title),
               "new_page": section.new_page, "blocks": blocks})
    }

    fn block(&mut self, block: &Block) -> Value {
        let letters = &mut self.letters;
        match block {
            Block::Heading(title) => json!({"kind": "heading", "title": letters.shown(title)}),
            Block::Answer(said) => {
                json!({"kind": "answer", "nature": said.nature.word(), "text": letters.shown(&said.text)})
            }
            Block::Paragraph(said) => json!({"kind": "paragraph", "nature": said.nature.word(),
                                             "text": letters.shown(&said.text)}),
            Block::List(nature, lead, items) => {
                let items: Vec<String> = items.iter().map(|item| letters.shown(item)).collect();
                json!({"kind": "list", "nature": nature.word(), "lead": letters.shown(lead),
                       "items": items})
            }
            Block::Caution(title, text) => {
                json!({"kind": "caution", "title": letters.shown(title), "text": letters.shown(text)})
            }
            Block::Values(nature, values) => {
                let counts = !values.is_empty()
                    && values.iter().all(|(_, value)| value.parse::<u64>().is_ok());
                let values: Vec<[String; 2]> = values
                    .iter()
                    .map(|(name, value)| [letters.shown(name), letters.shown(value)])
                    .collect();
                json!({"kind": if counts { "counts" } else { "values" },
                       "nature": nature.word(), "values": values})
            }
            Block::Table(table) => table_of(table, letters),
            Block::Figure(figure) => self.figure(figure),
            Block::Pictures(figures) => {
                let pictures: Vec<Value> = figures.iter().map(|one| self.figure(one)).collect();
                json!({"kind": "pictures", "pictures": pictures})
            }
        }
    }

    fn figure(&mut self, figure: &Figure) -> Value {
        let (ending, bytes) = match (draw::drawing(&figure.plot), &figure.plot) {
            (Some(drawing), _) => ("svg", svg(&drawing, &mut self.letters)),
            (None, Plot::Photograph(photograph)) if is_read(photograph) => {
                let ending = match photograph.kind {
                    PhotographKind::Jpeg => "jpg",
                    PhotographKind::Png => "png",
                };
                (ending, photograph.bytes.clone())
            }
            (None, _) => {
                let text = format!("{} This file cannot be shown here.", figure.caption);
                let nature = Nature::Fact.word();
                return json!({"kind": "paragraph", "nature": nature, "text": self.letters.shown(&text)});
            }
        };
        self.pictures += 1;
        let path = format!("/picture-{}.{ending}", self.pictures);
        self.files.insert(path.clone(), bytes);
        json!({"kind": "figure", "nature": figure.nature.word(), "caption": self.letters.shown(&figure.caption),
               "words": self.letters.whole(&figure.alternative), "path": path, "photograph": ending != "svg"})
    }
}

/// A drawing that stands alone.
fn svg(drawing: &draw::Drawing, letters: &mut Letters) -> Vec<u8> {
    let (width, height) = (drawing.width, drawing.height);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.0}\" height=\"{height:.0}\" \
         viewBox=\"0 0 {width:.0} {height:.0}\"><style>\
         text {{ font-family: 'Atkinson Hyperlegible Next', 'Noto Sans'; }}\n{}</style>{}</svg>",
        draw::STYLE,
        letters.whole(&drawing.marks)
    )
    .into_bytes()
}

/// Whether a photograph can be decoded: what is damaged is said, and stops nothing.
fn is_read(photograph: &Photograph) -> bool {
    let format = match photograph.kind {
        PhotographKind::Jpeg => ExchangeFormat::Jpg,
        PhotographKind::Png => ExchangeFormat::Png,
    };
    RasterImage::plain(Bytes::new(photograph.bytes.clone()), format).is_ok()
}

fn table_of(table: &Table, letters: &mut Letters) -> Value {
    let columns: Vec<Value> = table
        .columns
        .iter()
        .enumerate()
        .map(|(i, column)| {
            let kind = match column.kind {
                ColumnKind::Text | ColumnKind::Wide => "text",
                ColumnKind::Short => "short",
                ColumnKind::Number => "number",
                ColumnKind::Code => "code",
            };
            let cells: Vec<&str> =
                table.rows.iter().filter_map(|row| row.get(i)).map(String::as_str).collect();
            json!({"name": letters.shown(column.name), "kind": kind,
                   "weight": weight(column.name, &cells)})
        })
        .collect();
    let rows: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|row| {
            let cells = row.iter().zip(&table.columns);
            let cell = |(cell, column): (&String, &crate::model::Column)| match column.kind {
                ColumnKind::Text | ColumnKind::Wide => letters.in_cell(cell),
                _ => letters.whole(cell),
            };
            cells.map(cell).collect()
        })
        .collect();
    json!({"kind": "table", "nature": table.nature.word(), "caption": letters.shown(&table.caption),
           "columns": columns, "rows": rows})
}

/// How much of the width that is left a column asks for: enough for its longest word, and more with
/// the length of its cells, less than in proportion.
fn weight(name: &str, cells: &[&str]) -> f64 {
    let letters = |text: &str| text.chars().count() as f64;
    let words = cells.iter().copied().chain([name]).flat_map(|cell| cell.split([' ', '-', '/']));
    let longest_word = words.map(letters).fold(0.0, f64::max).min(26.0);
    let lengths = || cells.iter().map(|cell| letters(cell).min(WIDEST));
    let mean = lengths().sum::<f64>() / (cells.len().max(1) as f64);
    let most = lengths().fold(0.0, f64::max);
    (mean * most).sqrt().max(longest_word + 2.0)
}

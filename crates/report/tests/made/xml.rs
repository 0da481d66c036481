//! A strict reader of the page, as XML 1.0 (fifth edition) has it: every element closed in order,
//! every attribute quoted and given once, no `<` or lone `&` in text. Anything else is an error.

use std::collections::BTreeSet;

/// An element that was read: its name, attributes, and all text inside it.
#[derive(Debug, Clone)]
pub struct Element {
    pub name: String,
    pub attributes: Vec<(String, String)>,
    pub text: String,
    /// Indices of the elements that it lies in, outermost first.
    pub inside: Vec<usize>,
}

impl Element {
    pub fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(other, _)| other == name).map(|(_, value)| value.as_str())
    }
}

/// Elements of a page in the order in which they begin.
pub fn read(page: &str) -> Result<Vec<Element>, String> {
    let mut rest = page.strip_prefix("<!DOCTYPE html>").ok_or("no document type")?.trim_start();
    let mut elements: Vec<Element> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    let mut ids = BTreeSet::new();
    while !rest.is_empty() {
        if let Some(tag) = rest.strip_prefix("</") {
            let (name, after) = tag.split_once('>').ok_or("a tag without its end")?;
            let last = open.pop().ok_or(format!("</{name}> closes nothing"))?;
            if elements[last].name != name {
                return Err(format!("</{name}> closes <{}>", elements[last].name));
            }
            rest = after;
        } else if let Some(tag) = rest.strip_prefix('<') {
            if open.is_empty() && !elements.is_empty() {
                return Err("a second root".into());
            }
            let (element, empty, after) = start_tag(tag)?;
            if let Some(id) = element.attribute("id")
                && !ids.insert(id.to_owned())
            {
                return Err(format!("id {id} twice"));
            }
            elements.push(Element { inside: open.clone(), ..element });
            if !empty {
                open.push(elements.len() - 1);
            }
            rest = after;
        } else {
            let (text, after) = rest.split_at(rest.find('<').unwrap_or(rest.len()));
            let text = unescaped(text)?;
            if open.is_empty() && !text.trim().is_empty() {
                return Err(format!("'{text}' outside the root"));
            }
            for &element in &open {
                elements[element].text.push_str(&text);
            }
            rest = after;
        }
    }
    match open.last() {
        Some(&last) => Err(format!("<{}> is never closed", elements[last].name)),
        None => Ok(elements),
    }
}

fn is_name(c: char) -> bool {
    c.is_ascii_alphanumeric() || "-:_".contains(c)
}

fn start_tag(tag: &str) -> Result<(Element, bool, &str), String> {
    let end = tag.find(|c| !is_name(c)).ok_or("a tag without its end")?;
    let (name, mut rest) = tag.split_at(end);
    if name.is_empty() {
        return Err(format!("no name after <: {}", rest.chars().take(20).collect::<String>()));
    }
    let mut attributes: Vec<(String, String)> = Vec::new();
    loop {
        let spaced = rest.starts_with(char::is_whitespace);
        rest = rest.trim_start();
        let (empty, after) = match (rest.strip_prefix("/>"), rest.strip_prefix('>')) {
            (Some(after), _) => (true, after),
            (None, Some(after)) => (false, after),
            (None, None) => {
                let (key, after) = rest.split_once("=\"").ok_or(format!("<{name}: {rest:.30}"))?;
                let (value, after) = after.split_once('"').ok_or("an attribute without its end")?;
                let twice = attributes.iter().any(|(other, _)| other == key);
                if !spaced || twice || key.is_empty() || !key.chars().all(is_name) {
                    return Err(format!("attribute '{key}' of <{name}>"));
                }
                if value.contains('<') {
                    return Err(format!("< in attribute {key} of <{name}>"));
                }
                attributes.push((key.to_owned(), unescaped(value)?));
                rest = after;
                continue;
            }
        };
        let (name, text, inside) = (name.to_owned(), String::new(), Vec::new());
        return Ok((Element { name, attributes, text, inside }, empty, after));
    }
}

fn unescaped(text: &str) -> Result<String, String> {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('&') {
        out.push_str(before);
        let (entity, after) = after.split_once(';').ok_or(format!("a lone & in '{text:.40}'"))?;
        out.push(match entity {
            "amp" => '&',
            "lt" => '<',
            "gt" => '>',
            "quot" => '"',
            "#39" => '\'',
            other => return Err(format!("&{other}; is no entity of XML")),
        });
        rest = after;
    }
    out.push_str(rest);
    match out.chars().find(|c| c.is_control() && !"\n\t\r".contains(*c)) {
        Some(c) => Err(format!("character {:x} is in no document", u32::from(c))),
        None => Ok(out),
    }
}

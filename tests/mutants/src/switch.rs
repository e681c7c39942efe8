//! Writes a source with its switches, and remembers what of the new text belongs to which mutant.

use crate::{
    find::{Bytes, Kind, Site},
    list::Mutant,
};
use std::fmt::Write;

/// What a piece of the new text belongs to.
#[derive(Clone, Copy)]
pub enum Owner {
    /// The changed code of one mutant, by number: an error there is the mutant's own.
    Mutant(usize),
    /// A site with all its switches: an error there is ours.
    Site(usize),
}

pub struct Switched {
    pub text: String,
    pub pieces: Vec<(Bytes, Owner)>,
}

impl Switched {
    /// The smallest piece around an error.
    pub fn owner(&self, error: &Bytes) -> Option<Owner> {
        let around = |piece: &Bytes| piece.start <= error.start && error.end <= piece.end;
        let pieces = self.pieces.iter().filter(|(piece, _)| around(piece));
        pieces
            .min_by_key(|(piece, _)| piece.len())
            .map(|&(_, owner)| owner)
    }
}

/// The source with the switches of the mutants that are still to be switched.
pub fn switch(text: &str, sites: &[Site], mutants: &[Mutant]) -> Switched {
    let mut writer = Writer {
        source: text,
        sites,
        mutants,
        out: String::with_capacity(3 * text.len()),
        pieces: Vec::new(),
    };
    writer.copy(&(0..text.len()), 0);
    Switched {
        text: writer.out,
        pieces: writer.pieces,
    }
}

struct Writer<'a> {
    source: &'a str,
    sites: &'a [Site],
    mutants: &'a [Mutant],
    out: String,
    pieces: Vec<(Bytes, Owner)>,
}

fn is(n: usize) -> String {
    format!("crate::mutant::is({n})")
}

impl<'a> Writer<'a> {
    /// Copies a range, with the switches of the sites in it from the site `first` on.
    fn copy(&mut self, range: &Bytes, first: usize) {
        let mut at = range.start;
        for i in first..self.sites.len() {
            let bytes = &self.sites[i].bytes;
            if bytes.start >= range.end {
                break;
            }
            let wanted = bytes.start >= at && bytes.end <= range.end;
            if wanted && !self.live(i).is_empty() {
                self.out.push_str(&self.source[at..bytes.start]);
                at = bytes.end;
                let start = self.out.len();
                self.site(i);
                self.pieces.push((start..self.out.len(), Owner::Site(i)));
            }
        }
        self.out.push_str(&self.source[at..range.end]);
    }

    fn live(&self, site: usize) -> Vec<usize> {
        let all = self.sites[site].mutants.iter().copied();
        all.filter(|&n| self.mutants[n].is_switched()).collect()
    }

    /// The changed code of a mutant.
    fn changed(&mut self, n: usize, write: impl FnOnce(&mut Self)) {
        let start = self.out.len();
        write(self);
        self.pieces.push((start..self.out.len(), Owner::Mutant(n)));
    }

    /// `if` the one `else if` the other `else` as it was.
    fn choose(&mut self, live: &[usize], write: impl Fn(&mut Self, Option<usize>)) {
        for &n in live {
            let _ = write!(self.out, "if {} {{ ", is(n));
            self.changed(n, |writer| write(writer, Some(n)));
            self.out.push_str(" } else ");
        }
        self.out.push_str("{ ");
        write(self, None);
        self.out.push_str(" }");
    }

    fn site(&mut self, i: usize) {
        let (source, mutants, site) = (self.source, self.mutants, &self.sites[i]);
        let live = self.live(i);
        let inner = i + 1;
        let token = |n: Option<usize>, op: &Bytes| match n {
            Some(n) => mutants[n].replacement.clone(),
            None => source[op.clone()].to_owned(),
        };
        match &site.kind {
            Kind::Value => {
                for n in live {
                    let _ = write!(self.out, " if {} {{ ", is(n));
                    let value = format!("return {};", mutants[n].replacement);
                    self.changed(n, |writer| writer.out.push_str(&value));
                    self.out.push_str(" }");
                }
            }
            Kind::Iterator => self.iterator(i, &live),
            Kind::Arithmetic { left, op, right } => {
                self.operands(
                    ["(match (", ", ", ") { (l, r) => "],
                    [left, op, right],
                    inner,
                );
                self.choose(&live, |writer, n| {
                    let _ = write!(writer.out, "l {} r", token(n, op));
                });
                self.out.push_str(" })");
            }
            Kind::Comparison { left, op, right } => {
                self.operands(
                    ["(match (&(", "), &(", ")) { (l, r) => "],
                    [left, op, right],
                    inner,
                );
                self.choose(&live, |writer, n| {
                    let _ = write!(writer.out, "*l {} *r", token(n, op));
                });
                self.out.push_str(" })");
            }
            Kind::Lazy { left, op, right } => {
                // One mutant: the other operator. `r` is written once, for it may be long.
                let on = live.iter().map(|&n| is(n)).collect::<String>();
                let same = if &source[op.clone()] == "&&" {
                    "!="
                } else {
                    "=="
                };
                let middle = format!(") {{ l => if l {same} {on} {{ ");
                self.operands(
                    ["(match (", &middle, " } else { l } })"],
                    [left, op, right],
                    inner,
                );
            }
            Kind::Assignment { left, op, right } => {
                self.out.push_str("(match (");
                self.copy(right, inner);
                self.out.push_str(") { r => ");
                self.choose(&live, |writer, n| {
                    writer.copy(left, inner);
                    let _ = write!(writer.out, " {} r", token(n, op));
                });
                self.out.push_str(" })");
            }
            Kind::Unary { op, operand } => {
                self.out.push_str("(match (");
                self.copy(operand, inner);
                self.out.push_str(") { l => ");
                self.choose(&live, |writer, n| {
                    let op = if n.is_some() { "" } else { &source[op.clone()] };
                    let _ = write!(writer.out, "{op}l");
                });
                self.out.push_str(" })");
            }
            Kind::Arm { guard } => {
                let (deleted, guards): (Vec<_>, Vec<_>) =
                    live.iter().partition(|&&n| mutants[n].genre == "MatchArm");
                self.out.push_str(" if ");
                for n in deleted {
                    let _ = write!(self.out, "!{} && ", is(n));
                }
                self.out.push('(');
                for n in guards {
                    let _ = match mutants[n].replacement.as_str() {
                        "true" => write!(self.out, "{} || ", is(n)),
                        _ => write!(self.out, "!{} && ", is(n)),
                    };
                }
                self.out.push('(');
                match guard {
                    Some(guard) => self.copy(guard, inner),
                    None => self.out.push_str("true"),
                }
                let end = guard.as_ref().map_or(site.bytes.start, |guard| guard.end);
                self.out.push_str("))");
                self.out.push_str(&source[end..site.bytes.end]);
            }
            Kind::Field {
                path,
                member,
                value,
                base,
            } => {
                let member = &source[member.clone()];
                let _ = write!(self.out, "{member}: ");
                self.choose(&live, |writer, n| match n {
                    None => writer.copy(value, inner),
                    Some(_) => {
                        let path = &source[path.clone()];
                        let base = &source[base.clone()];
                        let _ = write!(
                            writer.out,
                            "let base: {path} = Clone::clone(&({base})); base.{member}"
                        );
                    }
                });
            }
        }
    }

    /// Both operands in their places, with something before, between and behind.
    fn operands(&mut self, texts: [&str; 3], [left, op, right]: [&Bytes; 3], inner: usize) {
        self.out.push_str(texts[0]);
        self.copy(left, inner);
        self.out.push_str(&self.source[left.end..op.start]);
        self.out.push_str(texts[1]);
        self.out.push_str(&self.source[op.end..right.start]);
        self.copy(right, inner);
        self.out.push_str(texts[2]);
    }

    /// The iterator of a body, or none, or one of one item: all of one type.
    fn iterator(&mut self, i: usize, live: &[usize]) {
        let any: Vec<String> = live.iter().map(|&n| is(n)).collect();
        let once: Vec<usize> = live
            .iter()
            .copied()
            .filter(|&n| self.item(n).is_some())
            .collect();
        let _ = write!(
            self.out,
            " (if {} {{ None }} else {{ Some({{ ",
            any.join(" || ")
        );
        self.copy(&self.sites[i].bytes, i + 1);
        self.out.push_str(" }) }).into_iter().flatten()");
        if !once.is_empty() {
            self.out.push_str(".chain(");
            self.choose(&once, |writer, n| match n.and_then(|n| writer.item(n)) {
                Some(item) => {
                    // `once` would take the shared reference that is asked for.
                    let item = item.replace("Box::leak(", "&*Box::leak(");
                    let item = item.replace("Vec::leak(", "&*Vec::leak(");
                    let _ = write!(writer.out, "Some({item})");
                }
                None => writer.out.push_str("None"),
            });
            self.out.push(')');
        }
        self.out.push(' ');
    }

    fn item(&self, n: usize) -> Option<&'a str> {
        let mutants: &'a [Mutant] = self.mutants;
        let once = mutants[n].replacement.strip_prefix("::std::iter::once(")?;
        once.strip_suffix(')')
    }
}

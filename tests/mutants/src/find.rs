//! Where in a source the mutants stand: the expressions, arms and bodies they change, by bytes.

use crate::list::{Mutant, State};
use std::{cmp::Reverse, collections::HashMap, ops::Range};
use syn::{
    BinOp, Block, Expr, Pat, Signature,
    spanned::Spanned,
    visit::{self, Visit},
};

pub type Bytes = Range<usize>;

/// A place that is written with switches.
pub struct Site {
    pub bytes: Bytes,
    pub kind: Kind,
    /// Their numbers.
    pub mutants: Vec<usize>,
}

pub enum Kind {
    /// At the head of a body.
    Value,
    /// A body that is an iterator of an opaque type.
    Iterator,
    /// Operands that are evaluated once, by value.
    Arithmetic {
        left: Bytes,
        op: Bytes,
        right: Bytes,
    },
    /// Operands that are looked at.
    Comparison {
        left: Bytes,
        op: Bytes,
        right: Bytes,
    },
    /// `&&` and `||`.
    Lazy {
        left: Bytes,
        op: Bytes,
        right: Bytes,
    },
    /// `+=` and the like.
    Assignment {
        left: Bytes,
        op: Bytes,
        right: Bytes,
    },
    Unary {
        op: Bytes,
        operand: Bytes,
    },
    /// From the end of an arm's pattern to its arrow.
    Arm {
        guard: Option<Bytes>,
    },
    /// A field of a struct that takes its other fields from `base`.
    Field {
        path: Bytes,
        member: Bytes,
        value: Bytes,
        base: Bytes,
    },
}

/// The sites of a source in the order in which they are written: outer before inner. The state of each
/// mutant found is set.
pub fn sites(text: &str, file: &str, mutants: &mut [Mutant]) -> syn::Result<Vec<Site>> {
    let mut starts = vec![0];
    starts.extend(text.match_indices('\n').map(|(at, _)| at + 1));
    let byte = |(line, column): (usize, usize)| {
        let start = starts[line - 1];
        let mut characters = text[start..].char_indices();
        characters
            .nth(column - 1)
            .map_or(text.len(), |(at, _)| start + at)
    };
    let mut listed: HashMap<(String, usize), Vec<usize>> = HashMap::new();
    for (n, mutant) in mutants.iter().enumerate() {
        if mutant.file == file {
            let key = (mutant.genre.clone(), byte(mutant.at));
            listed.entry(key).or_default().push(n);
        }
    }
    let mut finder = Finder {
        listed,
        mutants,
        sites: Vec::new(),
        in_constant: false,
    };
    finder.visit_file(&syn::parse_file(text)?);
    let mut sites = finder.sites;
    let order = |site: &Site| {
        let Range { start, end } = site.bytes;
        (start, start != end, Reverse(end))
    };
    sites.sort_by_key(order);
    Ok(sites)
}

struct Finder<'m> {
    /// By genre and first byte.
    listed: HashMap<(String, usize), Vec<usize>>,
    mutants: &'m mut [Mutant],
    sites: Vec<Site>,
    in_constant: bool,
}

impl Finder<'_> {
    fn take(&mut self, genre: &str, at: usize) -> Vec<usize> {
        self.listed
            .remove(&(genre.to_owned(), at))
            .unwrap_or_default()
    }

    fn set(&mut self, numbers: &[usize], state: &State) {
        for &n in numbers {
            self.mutants[n].state = state.clone();
        }
    }

    fn add(&mut self, mutants: Vec<usize>, bytes: Bytes, kind: Kind) {
        if mutants.is_empty() {
            return;
        }
        if self.in_constant {
            self.set(
                &mutants,
                &State::NotSwitched("evaluated at compile time".into()),
            );
            return;
        }
        self.set(&mutants, &State::Switched);
        self.sites.push(Site {
            bytes,
            kind,
            mutants,
        });
    }

    fn function(&mut self, signature: &Signature, block: &Block) {
        let Some(first) = block.stmts.first() else {
            return;
        };
        let found = self.take("FnValue", first.span().byte_range().start);
        let before = std::mem::replace(&mut self.in_constant, signature.constness.is_some());
        let inner = block.brace_token.span.open().byte_range().end
            ..block.brace_token.span.close().byte_range().start;
        let opaque = found
            .iter()
            .any(|&n| self.mutants[n].returns.contains("impl "));
        let iterator = found.iter().all(|&n| {
            let mutant = &self.mutants[n];
            mutant.returns.starts_with("-> impl")
                && !mutant.returns.contains("ExactSize")
                && mutant.replacement.starts_with("::std::iter::")
        });
        if !opaque {
            self.add(found, inner.start..inner.start, Kind::Value);
        } else if iterator {
            self.add(found, inner, Kind::Iterator);
        } else {
            self.set(&found, &State::NotSwitched("opaque return type".into()));
        }
        self.visit_block(block);
        self.in_constant = before;
    }

    fn constant(&mut self, expression: &Expr) {
        let before = std::mem::replace(&mut self.in_constant, true);
        self.visit_expr(expression);
        self.in_constant = before;
    }
}

impl<'a> Visit<'a> for Finder<'_> {
    fn visit_item_fn(&mut self, item: &'a syn::ItemFn) {
        self.function(&item.sig, &item.block);
    }

    fn visit_impl_item_fn(&mut self, item: &'a syn::ImplItemFn) {
        self.function(&item.sig, &item.block);
    }

    fn visit_trait_item_fn(&mut self, item: &'a syn::TraitItemFn) {
        if let Some(block) = &item.default {
            self.function(&item.sig, block);
        }
    }

    fn visit_item_const(&mut self, item: &'a syn::ItemConst) {
        self.constant(&item.expr);
    }

    fn visit_item_static(&mut self, item: &'a syn::ItemStatic) {
        self.constant(&item.expr);
    }

    fn visit_impl_item_const(&mut self, item: &'a syn::ImplItemConst) {
        self.constant(&item.expr);
    }

    fn visit_type_array(&mut self, array: &'a syn::TypeArray) {
        self.constant(&array.len);
    }

    fn visit_expr_repeat(&mut self, repeat: &'a syn::ExprRepeat) {
        self.visit_expr(&repeat.expr);
        self.constant(&repeat.len);
    }

    fn visit_expr_binary(&mut self, binary: &'a syn::ExprBinary) {
        let [left, op, right] = [
            bytes(&*binary.left),
            bytes(&binary.op),
            bytes(&*binary.right),
        ];
        let found = self.take("BinaryOperator", op.start);
        let whole = left.start..right.end;
        let kind = match binary.op {
            BinOp::And(_) | BinOp::Or(_) => Kind::Lazy { left, op, right },
            BinOp::Eq(_)
            | BinOp::Ne(_)
            | BinOp::Lt(_)
            | BinOp::Le(_)
            | BinOp::Gt(_)
            | BinOp::Ge(_) => Kind::Comparison { left, op, right },
            _ if found
                .iter()
                .any(|&n| self.mutants[n].replacement.ends_with('=')) =>
            {
                Kind::Assignment { left, op, right }
            }
            _ => Kind::Arithmetic { left, op, right },
        };
        if binds(&binary.left) || binds(&binary.right) {
            self.set(&found, &State::Unviable("in a chain with `let`".into()));
        } else {
            self.add(found, whole, kind);
        }
        visit::visit_expr_binary(self, binary);
    }

    fn visit_expr_unary(&mut self, unary: &'a syn::ExprUnary) {
        let [op, operand] = [bytes(&unary.op), bytes(&*unary.expr)];
        let found = self.take("UnaryOperator", op.start);
        self.add(found, op.start..operand.end, Kind::Unary { op, operand });
        visit::visit_expr_unary(self, unary);
    }

    fn visit_arm(&mut self, arm: &'a syn::Arm) {
        let arrow = bytes(&arm.fat_arrow_token).start;
        let mut found = self.take("MatchArm", bytes(arm).start);
        let (pattern, guard) = match &arm.pat {
            Pat::Guard(guarded) => (&*guarded.pat, Some(bytes(&*guarded.guard))),
            pattern => (pattern, None),
        };
        if let Some(guard) = &guard {
            found.extend(self.take("MatchArmGuard", guard.start));
        }
        self.add(found, bytes(pattern).end..arrow, Kind::Arm { guard });
        visit::visit_arm(self, arm);
    }

    fn visit_expr_struct(&mut self, made: &'a syn::ExprStruct) {
        if let Some(base) = &made.rest {
            for field in &made.fields {
                let found = self.take("StructField", bytes(field).start);
                let kind = Kind::Field {
                    path: bytes(&made.path),
                    member: bytes(&field.member),
                    value: bytes(&field.expr),
                    base: bytes(&**base),
                };
                self.add(found, bytes(field), kind);
            }
        }
        visit::visit_expr_struct(self, made);
    }
}

fn bytes(of: &impl Spanned) -> Bytes {
    of.span().byte_range()
}

/// Whether it is part of a chain with `let`, in which an operator has no value of its own.
fn binds(expression: &Expr) -> bool {
    match expression {
        Expr::Let(_) => true,
        Expr::Binary(binary) if matches!(binary.op, BinOp::And(_)) => {
            binds(&binary.left) || binds(&binary.right)
        }
        _ => false,
    }
}

//! Facts of the take and its lenses while a file is read.

use std::collections::HashSet;

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact, Failure, Item, Lens, Take};

use crate::escape::from_item;
use crate::fields::Form;
use crate::number;
use crate::private::{MAX_LENSES, Owner, Private};
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::tokens::Tokens;

/// Facts of one owner.
const MAX_FACTS: usize = 65_536;

/// See the module.
#[derive(Default)]
pub struct Statics {
    facts: Vec<Fact>,
    lenses: Vec<Vec<Fact>>,
    lens: Option<u32>,
    /// Facts that the file seems to state and the source did not.
    implied: HashSet<String>,
    sealed: bool,
    /// Facts that parameters of the standard state.
    remembered: Vec<Fact>,
}

impl Statics {
    /// Keeps a fact, to be compared with what comes later.
    pub fn remember(&mut self, fact: &Fact) {
        self.remembered.push(fact.clone());
    }

    /// A fact that was kept.
    pub fn remembered(&self, name: &str) -> Option<&Fact> {
        self.remembered.iter().find(|fact| fact.name == name)
    }

    /// Whether the head of the take was handed out.
    pub fn sealed(&self) -> bool {
        self.sealed
    }

    /// Notes what is only implied.
    pub fn implied(&mut self, names: &[String]) {
        if !self.sealed {
            self.implied.extend(names.iter().take(64).cloned());
        }
    }

    /// Takes a parameter that holds a fact; `false` if it holds none.
    pub fn take(
        &mut self,
        parameter: &str,
        unit: Option<&str>,
        text: impl FnOnce() -> Tokens,
        remarks: &mut Remarks,
        spot: &Spot,
    ) -> Result<bool, Failure> {
        let private = match Private::from_name(parameter) {
            Some(private @ (Private::Fact(..) | Private::Lenses | Private::Lens)) => private,
            _ => return Ok(false),
        };
        if self.sealed {
            remarks.add(
                Severity::Warning,
                "fact-late",
                parameter,
                || {
                    format!(
                        "the fact {} stands behind the first frames",
                        shown(parameter)
                    )
                },
                "facts belong into the first segment; it was not read",
                spot,
            );
            return Ok(true);
        }
        let mut tokens = text();
        let item = tokens.next_item()?.unwrap_or_default().to_owned();
        let wrong = || {
            spot.failure(
                format!(
                    "'{}' is nothing that {} can be",
                    shown(&item),
                    shown(parameter)
                ),
                "the file was changed by hand, or by another program",
            )
        };
        match private {
            Private::Lenses => {
                let count: u32 = item.parse().map_err(|_| wrong())?;
                if count > MAX_LENSES {
                    return Err(wrong());
                }
                self.lens_facts(count.saturating_sub(1));
            }
            Private::Lens => self.lens = Some(item.parse().map_err(|_| wrong())?),
            Private::Fact(owner, name, is_text) => {
                let value = if is_text {
                    Datum::Text(from_item(&item))
                } else {
                    Datum::Number(number::read(&item, Form::Plain).ok_or_else(wrong)?)
                };
                let facts = match owner {
                    Owner::Take => &mut self.facts,
                    Owner::Lens(lens) => self.lens_facts(lens),
                };
                if facts.len() >= MAX_FACTS {
                    return Err(wrong());
                }
                facts.push(Fact {
                    name,
                    value,
                    unit: unit.map(from_item).unwrap_or_default(),
                    at: spot.place(),
                });
            }
            _ => {}
        }
        Ok(true)
    }

    fn lens_facts(&mut self, lens: u32) -> &mut Vec<Fact> {
        let lens = lens as usize;
        if self.lenses.len() <= lens {
            self.lenses.resize(lens + 1, Vec::new());
        }
        &mut self.lenses[lens]
    }

    /// Lenses and the head of the take. `stated` are facts that the standard has a place for; the
    /// file may say that the source did not state them, or that it stated something else.
    pub fn seal(&mut self, stated: Vec<Fact>, remarks: &mut Remarks) -> Vec<Item> {
        self.sealed = true;
        let own = std::mem::take(&mut self.facts);
        let mut facts: Vec<Fact> = stated
            .into_iter()
            .filter(|fact| {
                !self.implied.contains(&fact.name) && !own.iter().any(|f| f.name == fact.name)
            })
            .collect();
        facts.extend(own);
        let lenses = std::mem::take(&mut self.lenses);
        let lens = self.lens.filter(|lens| (*lens as usize) < lenses.len());
        if lens != self.lens {
            remarks.add(
                Severity::Warning,
                "fact-impossible",
                "",
                || "the take is said to use a lens that is not there".to_owned(),
                "the file was changed by hand, or by another program",
                &Spot::default(),
            );
        }
        let mut items: Vec<Item> = lenses
            .into_iter()
            .map(|facts| {
                Item::Lens(Lens {
                    facts,
                    rings: Vec::new(),
                    tables: Vec::new(),
                })
            })
            .collect();
        items.push(Item::Take(Take { lens, facts }));
        items
    }
}

/// A rate, as the fact has it.
pub fn rate_fact(name: &str, rate: FrameRate, spot: &Spot) -> Fact {
    text_fact(name, &rate.to_string(), spot)
}

/// A fact that is a text.
pub fn text_fact(name: &str, text: &str, spot: &Spot) -> Fact {
    ringmark_sdk::fact(name, text, spot.place())
}

//! How JSON becomes leaves.

use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};

use super::{MAX_PLACES, ROOT, Sample, Stored};
use crate::aside::{CHANNELS, PRIVATE, Private};
use crate::rules::EXACT_INTEGERS;

/// Reads the value at a place.
pub(super) struct ValueSeed<'s> {
    pub(super) sample: &'s mut Sample,
    pub(super) node: u32,
}

impl ValueSeed<'_> {
    fn put(self, value: Stored) {
        self.sample.leaves.push((self.node, value));
    }

    fn json(self, text: &str) {
        let (start, end) = self.sample.store(text);
        self.put(Stored::Json(start, end));
    }
}

impl<'de> DeserializeSeed<'de> for ValueSeed<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for ValueSeed<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_bool<E>(self, value: bool) -> Result<(), E> {
        self.json(if value { "true" } else { "false" });
        Ok(())
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        self.json("null");
        Ok(())
    }

    fn visit_u64<E>(self, value: u64) -> Result<(), E> {
        if value <= EXACT_INTEGERS {
            self.put(Stored::Number(value as f64));
        } else {
            self.json(itoa::Buffer::new().format(value));
        }
        Ok(())
    }

    fn visit_i64<E>(self, value: i64) -> Result<(), E> {
        if value.unsigned_abs() <= EXACT_INTEGERS {
            self.put(Stored::Number(value as f64));
        } else {
            self.json(itoa::Buffer::new().format(value));
        }
        Ok(())
    }

    fn visit_f64<E>(self, value: f64) -> Result<(), E> {
        self.sample.huge |= value.abs() >= 9.2e18;
        self.put(Stored::Number(value));
        Ok(())
    }

    fn visit_str<E>(self, text: &str) -> Result<(), E> {
        let (start, end) = self.sample.store(text);
        self.put(Stored::Text(start, end));
        Ok(())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let mut next = 0;
        let mut empty = true;
        while let Some(child) = map.next_key_seed(KeySeed {
            sample: self.sample,
            parent: self.node,
            next: &mut next,
        })? {
            empty = false;
            if child.private {
                map.next_value_seed(PrivateSeed {
                    sample: self.sample,
                    node: child.node,
                })?;
            } else {
                map.next_value_seed(ValueSeed {
                    sample: self.sample,
                    node: child.node,
                })?;
            }
        }
        if empty && self.node != ROOT {
            self.json("{}");
        }
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
        let mut index = 0;
        while let Some(()) = seq.next_element_seed(ElementSeed {
            sample: self.sample,
            parent: self.node,
            index,
        })? {
            index += 1;
        }
        if index == 0 {
            self.json("[]");
        }
        Ok(())
    }
}

struct ElementSeed<'s> {
    sample: &'s mut Sample,
    parent: u32,
    index: usize,
}

impl<'de> DeserializeSeed<'de> for ElementSeed<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        let node = self
            .sample
            .element(self.parent, self.index)
            .ok_or_else(|| D::Error::custom(too_many_places()))?;
        deserializer.deserialize_any(ValueSeed {
            sample: self.sample,
            node,
        })
    }
}

fn too_many_places() -> String {
    format!("the samples hold more than {MAX_PLACES} different keys and array elements")
}

struct Child {
    node: u32,
    private: bool,
}

struct KeySeed<'s> {
    sample: &'s mut Sample,
    parent: u32,
    next: &'s mut usize,
}

impl<'de> DeserializeSeed<'de> for KeySeed<'_> {
    type Value = Child;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Child, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl Visitor<'_> for KeySeed<'_> {
    type Value = Child;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }

    fn visit_str<E: Error>(self, key: &str) -> Result<Child, E> {
        let sample = self.sample;
        let node = sample
            .member(self.parent, key, self.next)
            .ok_or_else(|| E::custom(too_many_places()))?;
        let number = sample.number;
        let seen = std::mem::replace(&mut sample.nodes[node as usize].seen, number);
        if seen == number && sample.duplicate(node).is_none() {
            return Err(E::custom("far too many keys come twice in one object"));
        }
        Ok(Child {
            node,
            private: self.parent == ROOT && key == PRIVATE,
        })
    }
}

/// The private part: its channels are leaves like all others, the rest is read as a whole.
struct PrivateSeed<'s> {
    sample: &'s mut Sample,
    node: u32,
}

impl<'de> DeserializeSeed<'de> for PrivateSeed<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for PrivateSeed<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "an object under `{PRIVATE}`, the private part of this program"
        )
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let mut private = Box::<Private>::default();
        let mut next = 0;
        while let Some(key) = map.next_key::<std::borrow::Cow<'_, str>>()? {
            if key == CHANNELS {
                let node = self
                    .sample
                    .member(self.node, CHANNELS, &mut next)
                    .ok_or_else(|| A::Error::custom(too_many_places()))?;
                map.next_value_seed(ChannelsSeed {
                    sample: self.sample,
                    node,
                })?;
            } else {
                private.read_member(&key, &mut map)?;
            }
        }
        self.sample.private = Some(private);
        Ok(())
    }
}

struct ChannelsSeed<'s> {
    sample: &'s mut Sample,
    node: u32,
}

impl<'de> DeserializeSeed<'de> for ChannelsSeed<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_map(ValueSeed {
            sample: self.sample,
            node: self.node,
        })
    }
}

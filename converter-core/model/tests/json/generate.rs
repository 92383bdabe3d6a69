//! Documents made from a seed: everything the model can hold, the odd cases more often than not.

use std::sync::Arc;

use ringmark_model::{
    Axis, Batch, Camera, Changed, Channel, ColumnHead, ColumnKey, EncoderRange, Extra, ExtraValue,
    FramePlaces, Lens, LensKind, LensTable, Mark, NumberColumn, Origin, Piece, PluginIdentity,
    Provenance, Repaired, Ring, ScaleQuantity, Take, TextColumn, TextForm,
};
use ringmark_quantity::{
    Angle, CountingMode, DistanceReference, FNumber, FrameRate, Length, NominalFocalLength, TStop,
    Unit,
};

/// A stream of choices.
pub struct Choices(u64);

impl Choices {
    pub fn new(seed: u64) -> Self {
        Choices(seed)
    }

    /// splitmix64: Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014.
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.bits() % end as u64) as usize
    }

    fn one<T: Clone>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())].clone()
    }

    fn maybe<T>(&mut self, make: impl FnOnce(&mut Self) -> T) -> Option<T> {
        (self.below(3) > 0).then(|| make(self))
    }

    fn finite(&mut self) -> f64 {
        loop {
            let value = match self.below(6) {
                0 => f64::from_bits(self.bits()),
                1 => self.below(10_000) as f64,
                2 => self.below(10_000) as f64 / 1000.0,
                3 => -(self.below(10_000) as f64) / 7.0,
                4 => self.one(&[
                    f64::MAX,
                    f64::MIN_POSITIVE,
                    5e-324,
                    9_007_199_254_740_993.0,
                    1e15,
                    1e21,
                    0.1,
                ]),
                _ => self.bits() as f64 / 1e12,
            };
            // Lengths are shown a thousand times larger.
            if value.abs() < 1e300 {
                return value + 0.0;
            }
        }
    }

    fn positive(&mut self) -> f64 {
        let value = self.finite().abs();
        if value > 0.0 { value } else { 1.0 }
    }

    fn value(&mut self) -> f64 {
        match self.below(8) {
            0 => f64::NAN,
            1 => f64::INFINITY,
            2 => f64::NEG_INFINITY,
            3 => -0.0,
            4 => 2.8,
            _ => self.finite(),
        }
    }

    fn text(&mut self) -> String {
        let odd = [
            "",
            "inf",
            "null",
            "-inf",
            "NaN",
            "{}",
            "\"",
            "\\",
            "\\u0000",
            "\0\u{1f}\u{7f}\u{9f}",
            "a\nb\r\n\tc",
            "∞ 5'6\"",
            "Größe",
            "\u{feff}",
            "\u{2028}",
            "𝄞",
            "extra/",
            "take",
            "channels",
            "end",
            " x ",
            "1",
            "</script>",
        ];
        match self.below(3) {
            0 => self.one(&odd).to_owned(),
            1 => format!("{}{}", self.one(&odd), self.below(1000)),
            _ => (0..self.below(12))
                .map(|_| char::from_u32((self.bits() % 0x11_0000) as u32).unwrap_or('�'))
                .collect(),
        }
    }

    fn sha256(&mut self) -> String {
        (0..4).map(|_| format!("{:016x}", self.bits())).collect()
    }

    fn reference(&mut self) -> DistanceReference {
        self.one(&DistanceReference::ALL)
    }

    fn range(&mut self) -> EncoderRange {
        EncoderRange {
            low: self.finite(),
            high: self.finite(),
        }
    }

    fn form(&mut self) -> TextForm {
        self.one(&[TextForm::Text, TextForm::Json, TextForm::Hex])
    }

    fn extras(&mut self) -> Vec<Extra> {
        let mut extras: Vec<Extra> = Vec::new();
        for _ in 0..self.below(20) {
            let name = self.text();
            let value = match self.below(2) {
                0 => ExtraValue::Number(
                    self.value() + 0.0,
                    self.one(&["", "mm", "furlong"]).to_owned(),
                ),
                _ => ExtraValue::Text(self.form(), self.text()),
            };
            if extras.iter().all(|extra| extra.name != name) {
                extras.push(Extra { name, value });
            }
        }
        extras
    }

    fn lens(&mut self) -> Lens {
        Lens {
            maker: self.maybe(Self::text),
            model: self.maybe(Self::text),
            serial: self.maybe(Self::text),
            firmware: self.maybe(Self::text),
            kind: self.maybe(|c| c.one(&[LensKind::Prime, LensKind::Zoom])),
            focal_length: self.maybe(|c| {
                let mut mm = || NominalFocalLength::from_mm(c.positive()).unwrap();
                (mm(), mm())
            }),
            close_focus: self.maybe(|c| Length::from_metres(c.finite())),
            close_focus_reference: self.maybe(Self::reference),
            widest_t: self.maybe(|c| TStop::new(c.positive()).unwrap()),
            smallest_t: self.maybe(|c| TStop::new(c.positive()).unwrap()),
            widest_f: self.maybe(|c| FNumber::new(c.positive()).unwrap()),
            smallest_f: self.maybe(|c| FNumber::new(c.positive()).unwrap()),
            squeeze: self.maybe(Self::finite),
            image_circle: self.maybe(|c| Length::from_metres(c.finite())),
            rings: (0..self.below(4)).map(|_| self.ring()).collect(),
            tables: (0..self.below(3)).map(|_| self.table()).collect(),
            extras: self.extras(),
            places: Vec::new(),
        }
    }

    fn ring(&mut self) -> Ring {
        let quantity = self.one(&ScaleQuantity::ALL);
        let is_distance = quantity == ScaleQuantity::FocusDistance;
        Ring {
            axis: self.one(&Axis::ALL),
            quantity,
            reference: is_distance.then(|| self.reference()),
            source_unit: self.one(&[quantity.unit(), Unit::FeetInches, Unit::One]),
            encoder: self.maybe(Self::range),
            rotation: self.maybe(|c| Angle::from_degrees(c.finite())),
            marks: (0..self.below(8))
                .map(|_| Mark {
                    position: self.value() + 0.0,
                    raw: self.maybe(Self::finite),
                    value: self.value() + 0.0,
                    engraved: self.maybe(Self::text),
                    place: None,
                })
                .collect(),
        }
    }

    fn table(&mut self) -> LensTable {
        let rows = self.below(5);
        let mut columns: Vec<NumberColumn> = Vec::new();
        for _ in 0..self.below(5) {
            let (head, is_text) = self.head();
            let stands = columns.iter().any(|column| column.head.key == head.key);
            if !is_text && !stands {
                let values = (0..rows).map(|_| self.value() + 0.0).collect();
                columns.push(NumberColumn {
                    head: Arc::new(head),
                    values,
                });
            }
        }
        LensTable {
            name: self.text(),
            columns,
        }
    }

    /// The head of a column, and whether it holds texts.
    fn head(&mut self) -> (ColumnHead, bool) {
        let origins = [
            Origin::Recorded,
            Origin::Converted,
            Origin::Interpolated,
            Origin::Derived,
        ];
        let origin = self.one(&origins);
        let source_unit = self.maybe(|c| c.one(&["ft", "", "ells"]).to_owned());
        if self.below(3) == 0 {
            let is_text = self.below(2) == 0;
            let head = ColumnHead {
                key: ColumnKey::Extra(self.text().into()),
                unit: self.one(&["", "mm", "°C"]).to_owned(),
                reference: self.maybe(Self::reference),
                origin,
                source_unit,
                form: is_text.then(|| self.form()),
            };
            return (head, is_text);
        }
        let channel = self.one(Channel::ALL);
        let head = ColumnHead {
            key: ColumnKey::Channel(channel),
            unit: channel.unit().map_or("", Unit::symbol).to_owned(),
            reference: channel.is_distance().then(|| self.reference()),
            origin,
            source_unit,
            form: channel.is_text().then_some(TextForm::Text),
        };
        (head, channel.is_text())
    }

    fn take(&mut self, lenses: usize) -> Take {
        let rates = ["24000/1001", "25", "30000/1001", "4294967295/4294967294"];
        let rate = |c: &mut Self| c.maybe(|c| FrameRate::parse(c.one(&rates)).unwrap());
        Take {
            frame_rate: rate(self),
            capture_rate: rate(self),
            clip: self.maybe(Self::text),
            reel: self.maybe(Self::text),
            camera: self
                .maybe(|c| Camera {
                    maker: c.maybe(Self::text),
                    model: c.maybe(Self::text),
                    serial: c.maybe(Self::text),
                    firmware: c.maybe(Self::text),
                    label: c.maybe(Self::text),
                })
                .unwrap_or_default(),
            sensor_mm: self.maybe(|c| (c.finite(), c.finite())),
            resolution: self.maybe(|c| (c.bits() as u32, c.bits() as u32)),
            counting: self.maybe(|c| c.one(&[CountingMode::DropFrame, CountingMode::NonDrop])),
            start_timecode: self.maybe(Self::text),
            lens: if lenses > 0 {
                self.maybe(|c| c.below(lenses))
            } else {
                None
            },
            encoders: Axis::ALL
                .into_iter()
                .filter_map(|axis| self.maybe(|c| (axis, c.range())))
                .collect(),
            distortion_model: self.maybe(Self::text),
            extras: self.extras(),
            places: Vec::new(),
        }
    }

    fn repaired(&mut self) -> Repaired {
        Repaired {
            check: self.text(),
            action: self.text(),
            evidence: self.text(),
            changes: (0..self.below(3))
                .map(|_| Changed {
                    place: self.text(),
                    was: self.maybe(Self::text),
                    now: self.maybe(Self::text),
                })
                .collect(),
        }
    }

    fn provenance(&mut self) -> Provenance {
        let named = |c: &mut Self| (c.text(), c.sha256());
        Provenance {
            file: self.text(),
            files: self.bits(),
            size: self.bits() >> 1,
            sha256: self.maybe(Self::sha256),
            plugin: self.maybe(|c| PluginIdentity {
                name: c.text(),
                version: c.text(),
                sha256: c.sha256(),
            }),
            mapping: self.maybe(named),
            calibration: self.maybe(named),
            repairs: (0..self.below(3)).map(|_| self.repaired()).collect(),
            program: self.text(),
        }
    }
}

/// A take while its frames are made.
struct Columns {
    heads: Vec<(Arc<ColumnHead>, bool)>,
    frames: u64,
}

impl Columns {
    /// The next batch: mostly the columns so far, sometimes new ones, sometimes some are missing.
    fn batch(&mut self, c: &mut Choices, take: usize) -> Batch {
        for _ in 0..c.below(4) {
            let (head, is_text) = c.head();
            if self.heads.iter().all(|(known, _)| known.key != head.key) {
                self.heads.push((Arc::new(head), is_text));
            }
        }
        let count = c.below(6);
        let mut batch = Batch {
            take,
            first: self.frames,
            count,
            places: FramePlaces::default(),
            ..Batch::default()
        };
        for (head, is_text) in &self.heads {
            if c.below(6) == 0 {
                continue;
            }
            let head = Arc::clone(head);
            if *is_text {
                let texts: Vec<Option<String>> =
                    (0..count).map(|_| c.maybe(Choices::text)).collect();
                let texts = texts.iter().map(Option::as_deref);
                batch.texts.push(TextColumn::from_texts(head, texts));
            } else {
                let values = (0..count).map(|_| c.value()).collect();
                batch.numbers.push(NumberColumn { head, values });
            }
        }
        self.frames += count as u64;
        batch
    }
}

/// All pieces of a document; heads and frames of several takes in any order that is allowed.
pub fn pieces(seed: u64) -> Vec<Piece> {
    let c = &mut Choices::new(seed);
    let mut pieces = Vec::new();
    let mut lenses = 0;
    let mut takes: Vec<Columns> = Vec::new();
    for _ in 0..c.below(14) {
        match c.below(6) {
            0 if lenses < 4 => {
                pieces.push(Piece::Lens(c.lens()));
                lenses += 1;
            }
            1 if takes.len() < 4 => {
                pieces.push(Piece::Take(c.take(lenses)));
                takes.push(Columns {
                    heads: Vec::new(),
                    frames: 0,
                });
            }
            _ if !takes.is_empty() => {
                let take = c.below(takes.len());
                pieces.push(Piece::Frames(takes[take].batch(c, take)));
            }
            _ => {}
        }
    }
    let inputs = (0..c.below(3)).map(|_| c.provenance()).collect();
    pieces.push(Piece::End(inputs));
    pieces
}

/// The same, but lenses only.
pub fn lenses(seed: u64) -> Vec<Piece> {
    let c = &mut Choices::new(seed);
    let mut pieces: Vec<Piece> = (0..c.below(4)).map(|_| Piece::Lens(c.lens())).collect();
    pieces.push(Piece::End(vec![c.provenance()]));
    pieces
}

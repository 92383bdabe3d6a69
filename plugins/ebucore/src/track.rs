//! One line of segments, in their order: the segments of a parameter, or segments with parameters.

mod lanes;

use std::rc::Rc;

use ringmark_sdk::Failure;

pub use self::lanes::parameter_name;
use self::lanes::{Found, lane, tokens};
use crate::columns::Columns;
use crate::document::Block;
use crate::fields;
use crate::lane::Lane;
use crate::pages::Pages;
use crate::parameter::{Around, Parameters};
use crate::private::{IMPLIED, Private, REFERENCE};
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::statics::Statics;
use crate::timeline::Timeline;
use crate::xml::{Name, Node, Tag, Xml};

/// Parameters of one segment.
const MAX_LANES: usize = 65_536;

/// What all tracks of a take share.
pub struct Common {
    /// The file.
    pub pages: Rc<Pages>,
    /// Where times lie.
    pub timeline: Timeline,
    /// Where values go.
    pub columns: Columns,
    /// Parameters seen so far.
    pub parameters: Parameters,
    /// Facts seen so far.
    pub statics: Statics,
    /// What was noticed.
    pub remarks: Remarks,
}

/// A segment.
pub struct Stretch {
    /// Position of its first frame.
    pub start: i64,
    /// Position behind its last frame.
    pub end: i64,
    /// Its tag.
    pub spot: Spot,
    /// Its values.
    pub lanes: Vec<Lane>,
    /// Whether its time codes are no statement of the source.
    pub no_timecode: bool,
}

/// A parameter whose segments follow.
struct Line {
    parameter: String,
    unit: Option<String>,
    around: Around,
}

/// See the module.
pub struct Track {
    xml: Xml,
    /// None for segments with parameters.
    line: Option<Line>,
    /// Position behind the last segment; none before the first.
    expected: Option<i64>,
    /// The segment at hand.
    pub current: Option<Stretch>,
    ended: bool,
}

impl Track {
    /// The track that begins at a tag. `image_plane`: whether the parameters that are written one by
    /// one include the distance from the image plane.
    pub fn new(pages: &Rc<Pages>, block: &Block, image_plane: bool) -> Self {
        let line = block.parameter.as_ref().map(|parameter| Line {
            parameter: parameter.clone(),
            unit: block.unit.clone(),
            around: Around {
                image_plane,
                reference: None,
            },
        });
        Track {
            xml: Xml::at(
                pages,
                block.at,
                block.names.clone(),
                Rc::clone(&block.namespace),
            ),
            line,
            expected: None,
            current: None,
            ended: false,
        }
    }

    /// Whether the track is one of segments with parameters.
    pub fn by_segment(&self) -> bool {
        self.line.is_none()
    }

    /// Goes on to the first segment that reaches beyond `position`.
    pub fn reach(&mut self, position: Option<i64>, common: &mut Common) -> Result<(), Failure> {
        loop {
            if let Some(current) = &self.current
                && position.is_none_or(|position| current.end > position)
            {
                return Ok(());
            }
            self.current = None;
            if self.ended {
                return Ok(());
            }
            self.current = self.next(common)?;
            let Some(current) = &mut self.current else {
                self.ended = true;
                return Ok(());
            };
            if let Some(position) = position
                && current.start < position
            {
                // What another segment of this track covers already is passed over.
                let skipped = (position.min(current.end) - current.start) as u64;
                for lane in &mut current.lanes {
                    lane.skip(skipped, &mut common.remarks)?;
                }
                current.start += skipped as i64;
            }
        }
    }

    /// The next segment that is not empty.
    fn next(&mut self, common: &mut Common) -> Result<Option<Stretch>, Failure> {
        loop {
            match self.xml.next()? {
                Node::End => return Ok(None),
                Node::Close if self.xml.depth() == 0 => return Ok(None),
                // The tag that the track begins with may be empty.
                Node::Open(tag) if self.xml.depth() == 0 && tag.empty => return Ok(None),
                Node::Open(tag) if tag.name == Name::Segment && self.is_child(&tag) => {
                    if let Some(stretch) = self.segment(tag, common)? {
                        return Ok(Some(stretch));
                    }
                }
                _ => {}
            }
        }
    }

    fn is_child(&self, tag: &Tag) -> bool {
        self.xml.depth() == if tag.empty { 1 } else { 2 }
    }

    fn segment(&mut self, tag: Tag, common: &mut Common) -> Result<Option<Stretch>, Failure> {
        let spot = Spot {
            field: match &self.line {
                Some(line) => format!("parameter {}", shown(&line.parameter)),
                None => String::new(),
            },
            ..tag.spot.clone()
        };
        let (start, end) = common.timeline.segment(
            tag.attribute("startTime"),
            tag.attribute("endTime"),
            self.expected.unwrap_or_default(),
            &mut common.remarks,
            &spot,
        )?;
        self.tell_order(start, end, &spot, common);
        let mut stretch = Stretch {
            start,
            end,
            spot,
            lanes: Vec::new(),
            no_timecode: false,
        };
        match &self.line {
            Some(line) => {
                let found = Found {
                    name: line.parameter.clone(),
                    tag,
                };
                let (around, unit) = (line.around.clone(), line.unit.clone());
                lane(found, unit.as_deref(), &around, &mut stretch, common)?;
            }
            None => self.parameters(tag, &mut stretch, common)?,
        }
        self.expected = self.expected.max(Some(end));
        if end == start {
            let spot = &stretch.spot;
            common.remarks.add(
                Severity::Error,
                "segment-empty",
                "",
                || "the segment ends where it starts: its values belong to no frame".to_owned(),
                "endTime is the first frame after the segment",
                spot,
            );
            return Ok(None);
        }
        Ok(Some(stretch))
    }

    /// Notes segments that overlap, and frames that a parameter leaves out.
    fn tell_order(&self, start: i64, end: i64, spot: &Spot, common: &mut Common) {
        let Common {
            timeline, remarks, ..
        } = common;
        let subject = match &self.line {
            Some(line) => &line.parameter,
            None => "",
        };
        let expected = self.expected.unwrap_or_default();
        if start < expected && self.expected.is_none() {
            remarks.add(
                Severity::Warning,
                "segment-before-start",
                subject,
                || {
                    format!(
                        "the segment begins at {}, before extractionStartTime",
                        timeline.said(start)
                    )
                },
                "the take was taken to start there",
                spot,
            );
        } else if start < expected {
            let last = expected.min(end.max(start + 1));
            remarks.add(
                Severity::Error,
                "segments-overlap",
                subject,
                || {
                    format!(
                        "the segment covers {} to {} again ({} frames)",
                        timeline.said(start),
                        timeline.said(last - 1),
                        last - start
                    )
                },
                "the values of the earlier segment were read there",
                spot,
            );
        } else if start > expected && self.line.is_some() {
            remarks.add(
                Severity::Warning,
                "segments-gap",
                subject,
                || {
                    format!(
                        "{} has no segment from {} to {} ({} frames)",
                        shown(subject),
                        timeline.said(expected),
                        timeline.said(start - 1),
                        start - expected
                    )
                },
                "its values were taken as not recorded there",
                spot,
            );
        }
    }

    /// The parameters of a segment.
    fn parameters(
        &mut self,
        segment: Tag,
        stretch: &mut Stretch,
        common: &mut Common,
    ) -> Result<(), Failure> {
        let mut found = Vec::new();
        let depth = self.xml.depth();
        if segment.empty {
            return Ok(());
        }
        loop {
            match self.xml.next()? {
                Node::Open(tag) if tag.name == Name::Parameter => {
                    let inside = self.xml.depth() - usize::from(!tag.empty);
                    if inside != depth {
                        continue;
                    }
                    let Some(name) = parameter_name(&tag, &mut common.remarks) else {
                        continue;
                    };
                    if found.len() >= MAX_LANES {
                        return Err(tag.spot.failure(
                            format!("a segment has more than {MAX_LANES} parameters"),
                            "no document has so many; the file may be damaged",
                        ));
                    }
                    found.push(Found { name, tag });
                }
                Node::Close if self.xml.depth() < depth => break,
                Node::End => break,
                _ => {}
            }
        }
        let around = self.around(&mut found, stretch, common)?;
        let implied = around.1;
        for parameter in found {
            if implied.contains(&parameter.name) {
                continue;
            }
            let text = |pages| tokens(pages, &parameter.name, &parameter.tag);
            if common.statics.take(
                &parameter.name,
                parameter.tag.attribute("unit"),
                || text(&common.pages),
                &mut common.remarks,
                &parameter.tag.spot,
            )? {
                continue;
            }
            lane(parameter, None, &around.0, stretch, common)?;
        }
        Ok(())
    }

    /// What the segment says about itself; those parameters are taken out.
    fn around(
        &self,
        found: &mut Vec<Found>,
        stretch: &mut Stretch,
        common: &mut Common,
    ) -> Result<(Around, Vec<String>), Failure> {
        let mut around = Around::default();
        let mut implied = Vec::new();
        for parameter in &*found {
            let mut tokens = tokens(&common.pages, &parameter.name, &parameter.tag);
            match Private::from_name(&parameter.name) {
                Some(Private::Implied) => {
                    while let Some(item) = tokens.next_item()? {
                        implied.push(item.to_owned());
                    }
                }
                Some(Private::Reference) => {
                    let item = tokens.next_item()?.unwrap_or_default();
                    around.reference = Some(crate::escape::from_item(item));
                }
                _ => around.image_plane |= parameter.name == fields::IMAGE_PLANE,
            }
        }
        found.retain(|parameter| !matches!(&*parameter.name, IMPLIED | REFERENCE));
        stretch.no_timecode = implied.iter().any(|name| name == "timecode");
        common.statics.implied(&implied);
        Ok((around, implied))
    }
}

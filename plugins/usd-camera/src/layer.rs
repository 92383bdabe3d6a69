//! The first pass over a file: its metadata, and where its cameras and their samples stand.

use std::rc::Rc;

use ringmark_sdk::{Failure, Input, Place, failure};

use crate::camera;
use crate::lex::{Kind, Lexer, Token};
use crate::metadata::{self, Arc, Keep, Metadata};
use crate::remarks::{Notice, Remarks};
use crate::scan::{CHUNK, Scan};
use crate::stage::{Camera, Placed, Stage};
use crate::text::unquote;
use crate::value::{self, Scalar};

/// Prims inside each other.
const DEEPEST: usize = 1000;

/// Bytes kept of all cameras of a file, samples aside.
const BUDGET: usize = 32 << 20;

/// A prim that is open while the file is read.
struct Prim {
    name: String,
    /// Why cameras here are not on the stage, if they are not.
    off: Option<&'static str>,
    /// What may add to it from elsewhere.
    arc: Option<Placed<Arc>>,
    /// Index of the camera that it is.
    camera: Option<usize>,
    /// Whether a camera is inside, or it is one.
    has_camera: bool,
}

/// The first pass.
pub struct Pass<'r> {
    /// Tokens of the file.
    pub lexer: Lexer,
    /// What is noticed.
    pub remarks: &'r mut Remarks,
    /// Bytes that may still be kept.
    pub budget: usize,
    prims: Vec<Prim>,
    stage: Stage,
    /// Cameras that are not on the stage.
    skipped: Option<(String, &'static str, Place)>,
}

/// Reads the file through and says what is in it.
pub fn index(input: Rc<dyn Input>, remarks: &mut Remarks) -> Result<Stage, Failure> {
    let start = crate::cookie::check(&*input, remarks)?;
    let mut pass = Pass {
        lexer: Lexer::new(Scan::new(input, start, CHUNK)),
        remarks,
        budget: BUDGET,
        prims: Vec::new(),
        stage: Stage::default(),
        skipped: None,
    };
    pass.layer_metadata()?;
    while pass.statement()? {}
    let Pass { stage, skipped, .. } = pass;
    if !stage.cameras.is_empty() {
        if let Some((path, why, at)) = skipped {
            remarks.add(Notice {
                severity: "note",
                check: "camera-not-on-stage",
                subject: "",
                message: format!("the camera {path} is not read: {why}"),
                help: "flatten the stage to have all cameras in one plain file",
                at: Some(at),
            });
        }
        return Ok(stage);
    }
    Err(match skipped {
        Some((path, why, at)) => failure(
            format!("no camera is on the stage; {path} is not read: {why}"),
            "flatten the stage to have its cameras in one plain file",
            Some(at),
        ),
        None => failure(
            "there is no Camera prim in this file",
            "a camera that comes from other layers is in those files: name them, or flatten the stage",
            Some(Place {
                input: 0,
                offset: 0,
                length: 0,
                field: String::new(),
            }),
        ),
    })
}

impl Pass<'_> {
    /// A statement of the layer or of the prim at hand; `false` at the end of the file.
    fn statement(&mut self) -> Result<bool, Failure> {
        while self.lexer.take(b';')? {}
        let token = self.lexer.next()?;
        match token.kind {
            Kind::End if self.prims.is_empty() => return Ok(false),
            Kind::Sign(b'}') if !self.prims.is_empty() => {
                self.close();
                return Ok(true);
            }
            Kind::Name => {}
            _ if self.prims.is_empty() => {
                return Err(self.lexer.unexpected(token, "`def`, `over` or `class`"));
            }
            _ => return Err(self.lexer.unexpected(token, "an attribute, a prim or `}`")),
        }
        let word = self.lexer.text().to_owned();
        match word.as_str() {
            "def" | "over" | "class" => self.prim(token, &word)?,
            "reorder" => self.reorder()?,
            _ if self.prims.is_empty() => {
                return Err(self.lexer.unexpected(token, "`def`, `over` or `class`"));
            }
            "variantSet" => self.variant_set(token)?,
            _ => {
                let camera = self.prims.last().and_then(|p| p.camera);
                let mut camera = camera.and_then(|index| {
                    let found = self.stage.cameras.get_mut(index)?;
                    Some(std::mem::replace(found, camera::empty()))
                });
                let done = camera::property(self, word, camera.as_mut());
                if let (Some(camera), Some(index)) =
                    (camera, self.prims.last().and_then(|p| p.camera))
                {
                    self.stage.cameras[index] = camera;
                }
                done?;
            }
        }
        Ok(true)
    }

    /// `def Camera "name" ( … ) {`
    fn prim(&mut self, first: Token, specifier: &str) -> Result<(), Failure> {
        let mut token = self.lexer.next()?;
        let mut of = String::new();
        if token.kind == Kind::Name {
            self.lexer.text().clone_into(&mut of);
            token = self.lexer.next()?;
        }
        if token.kind != Kind::Text {
            return Err(self
                .lexer
                .unexpected(token, "the name of a prim in quotation marks"));
        }
        let name = unquote(self.lexer.text());
        if self.prims.len() >= DEEPEST {
            return Err(failure(
                format!("prims inside each other, more than {DEEPEST} deep"),
                "take the camera out into a file of its own",
                Some(token.place()),
            ));
        }
        let is_camera = of == "Camera";
        let mut metadata = Metadata::default();
        if self.lexer.take(b'(')? {
            let keep = if is_camera {
                Keep::CustomData
            } else {
                Keep::Nothing
            };
            metadata = metadata::read(&mut self.lexer, keep, &mut self.budget)?;
        }
        let outer = self.prims.last().and_then(|p| p.off);
        let off = outer.or(match specifier {
            "class" => Some("it is in a class, which is only a pattern for others"),
            "over" => Some("it is in an `over`, which only adds to a prim of another layer"),
            _ if metadata.inactive => Some("it is deactivated"),
            _ => None,
        });
        let arc = metadata.arc.take();
        self.prims.push(Prim {
            name,
            off,
            arc,
            camera: None,
            has_camera: false,
        });
        if is_camera {
            self.camera(first, metadata)?;
        }
        self.lexer.expect(b'{', "before what is in the prim")?;
        Ok(())
    }

    fn camera(&mut self, first: Token, metadata: Metadata) -> Result<(), Failure> {
        let path: String = self.prims.iter().flat_map(|p| ["/", &p.name]).collect();
        let at = Place {
            field: path.clone(),
            ..first.place()
        };
        self.keep(path.len() + 512, first)?;
        self.warn_of_arcs(&path);
        for prim in &mut self.prims {
            prim.has_camera = true;
        }
        let Some(prim) = self.prims.last_mut() else {
            return Ok(());
        };
        if let Some(why) = prim.off {
            self.skipped.get_or_insert((path, why, at));
            return Ok(());
        }
        prim.camera = Some(self.stage.cameras.len());
        self.stage.cameras.push(Camera {
            path,
            at,
            custom: metadata.custom,
            attributes: Vec::new(),
            others: Vec::new(),
        });
        Ok(())
    }

    /// What may change a camera from elsewhere.
    fn warn_of_arcs(&mut self, path: &str) {
        for prim in &self.prims {
            if let Some(arc) = &prim.arc {
                self.remarks.add(Notice {
                    severity: "warning",
                    check: "other-layers-not-read",
                    subject: path,
                    message: format!(
                        "{path} may get or lose values by {}, which a reader of one plain file does not follow",
                        arc.value.name()
                    ),
                    help: "flatten the stage and read that, to be sure of all values",
                    at: Some(arc.at.clone()),
                });
            }
        }
    }

    fn close(&mut self) {
        let Some(prim) = self.prims.pop() else { return };
        if let Some(arc) = prim.arc.filter(|_| !prim.has_camera) {
            self.remarks.add(Notice {
                severity: "note",
                check: "other-layers-not-read",
                subject: "",
                message: format!(
                    "the prim `{}` gets more by {}: cameras in there are not seen",
                    prim.name,
                    arc.value.name()
                ),
                help: "flatten the stage to have all cameras in one plain file",
                at: Some(arc.at),
            });
        }
    }

    /// `reorder nameChildren = [ … ]`
    fn reorder(&mut self) -> Result<(), Failure> {
        let token = self.lexer.next()?;
        if token.kind != Kind::Name {
            return Err(self.lexer.unexpected(token, "what is reordered"));
        }
        if self.lexer.text() == "rel" {
            let token = self.lexer.next()?;
            if token.kind != Kind::Name {
                return Err(self.lexer.unexpected(token, "the name of a relationship"));
            }
        }
        self.lexer.expect(b'=', "before the order")?;
        value::skip(&mut self.lexer)
    }

    /// `variantSet "name" = { … }`: which variant holds is no matter of this layer alone.
    fn variant_set(&mut self, first: Token) -> Result<(), Failure> {
        let token = self.lexer.next()?;
        if token.kind != Kind::Text {
            return Err(self.lexer.unexpected(token, "the name of a variant set"));
        }
        self.lexer.expect(b'=', "before the variants")?;
        self.lexer.expect(b'{', "before the variants")?;
        value::skip_rest(&mut self.lexer, b'{')?;
        let camera = self.prims.iter().rev().find_map(|p| p.camera);
        let (severity, path) = match camera.and_then(|index| self.stage.cameras.get(index)) {
            Some(camera) => ("warning", camera.path.clone()),
            None => ("note", "cameras".to_owned()),
        };
        self.remarks.add(Notice {
            severity,
            check: "variants-not-read",
            subject: &path.clone(),
            message: format!("variants are passed over: what they say of {path} is not read"),
            help: "choose the variant and flatten the stage, to be sure of all values",
            at: Some(first.place()),
        });
        Ok(())
    }

    fn layer_metadata(&mut self) -> Result<(), Failure> {
        if !self.lexer.take(b'(')? {
            return Ok(());
        }
        let metadata = metadata::read(&mut self.lexer, Keep::Layer, &mut self.budget)?;
        if let Some(arc) = metadata.arc {
            self.remarks.add(Notice {
                severity: "warning",
                check: "other-layers-not-read",
                subject: "layer",
                message: format!(
                    "the file has {}: a reader of one plain file sees only what stands in this one",
                    arc.value.name()
                ),
                help: "flatten the stage and read that, to be sure of all values",
                at: Some(arc.at),
            });
        }
        self.stage.custom = metadata.custom;
        for (key, number) in metadata.numbers {
            let slot = match key {
                "metersPerUnit" => &mut self.stage.meters_per_unit,
                "timeCodesPerSecond" => &mut self.stage.time_codes_per_second,
                "framesPerSecond" => &mut self.stage.frames_per_second,
                "startTimeCode" => &mut self.stage.start,
                _ => &mut self.stage.end,
            };
            *slot = match number.value {
                Scalar::Number(value) => Some(Placed {
                    value,
                    at: number.at,
                }),
                _ => None,
            };
        }
        Ok(())
    }

    /// Accounts for `size` bytes that are kept.
    pub fn keep(&mut self, size: usize, token: Token) -> Result<(), Failure> {
        match self.budget.checked_sub(size) {
            Some(rest) => {
                self.budget = rest;
                Ok(())
            }
            None => Err(failure(
                format!("cameras, attributes and texts beyond {} MiB", BUDGET >> 20),
                "take the cameras out into files of their own",
                Some(token.place()),
            )),
        }
    }

    /// Checks that a statement ends here.
    pub fn end_of_statement(&mut self) -> Result<(), Failure> {
        let token = self.lexer.peek()?;
        if token.new_line || matches!(token.kind, Kind::End | Kind::Sign(b';' | b'}')) {
            return Ok(());
        }
        Err(self.lexer.unexpected(token, "the end of the line"))
    }
}

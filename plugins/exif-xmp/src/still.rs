//! One file: where its Exif and XMP parts are, and what they say together.

use ringmark_sdk::pairing::number_in_name;
use ringmark_sdk::{Failure, Input, Place, fact};

use crate::aside::Aside;
use crate::block::Block;
use crate::exact::{self, FROM_NAME};
use crate::exif;
use crate::interpret;
use crate::jpeg::{self, Stretch};
use crate::merge::merge;
use crate::name;
use crate::rdf;
use crate::record::{Record, place, refuse};
use crate::remarks::{self, Remarks};
use crate::tiff::{self, Tiff};
use crate::values::{self, Text, Values};
use crate::xml::{self, Damage, MOST_BYTES};
use crate::xmp::{self, Origin, Packet};

/// First bytes of a JPEG file.
pub const JPEG: &[u8] = b"\xff\xd8\xff";
/// First bytes of TIFF structures.
pub const TIFF: [&[u8]; 2] = [b"II*\0", b"MM\0*"];

/// Whether the name is one of an image.
pub fn is_image_name(name: &str) -> bool {
    matches!(
        name::ending(name).as_str(),
        "jpg" | "jpeg" | "tif" | "tiff" | "dng"
    )
}

/// Whether the first bytes are those of XML, with a byte order mark or without.
pub fn is_xml(head: &[u8]) -> bool {
    let head = head.strip_prefix("\u{feff}".as_bytes()).unwrap_or(head);
    head.trim_ascii_start().starts_with(b"<")
        || head.starts_with(&[0xff, 0xfe, b'<', 0])
        || head.starts_with(&[0xfe, 0xff, 0, b'<'])
}

/// Reads a file.
pub fn read(input: &dyn Input, index: u32, remarks: &mut Remarks) -> Result<Values, Failure> {
    let (mut values, aside) = read_parts(input, index, remarks)?;
    add_name(&mut values, &aside, &input.name());
    Ok(values)
}

fn read_parts(
    input: &dyn Input,
    index: u32,
    remarks: &mut Remarks,
) -> Result<(Values, Aside), Failure> {
    let head = input.read(0, 64);
    if head.starts_with(JPEG) {
        return read_jpeg(input, index, remarks);
    }
    let named_image = is_image_name(&input.name());
    if TIFF.iter().any(|magic| head.starts_with(magic)) || (named_image && !is_jpeg_name(input)) {
        return read_tiff(input, index, remarks);
    }
    if is_xml(&head) && !named_image {
        return read_sidecar(input, index, remarks);
    }
    let bytes: Vec<String> = head.iter().take(4).map(|b| format!("{b:02x}")).collect();
    let found = match bytes.is_empty() {
        true => "the file is empty".to_owned(),
        false => format!("the file starts with {}", bytes.join(" ")),
    };
    Err(refuse(
        format!("{found}: neither JPEG (ff d8 ff), TIFF (49 49 2a 00 or 4d 4d 00 2a) nor XML"),
        "pass stills with Exif or XMP, or .xmp sidecars",
        place(index, 0, head.len().min(4) as u64, ""),
    ))
}

fn is_jpeg_name(input: &dyn Input) -> bool {
    matches!(name::ending(&input.name()).as_str(), "jpg" | "jpeg")
}

fn read_jpeg(
    input: &dyn Input,
    index: u32,
    remarks: &mut Remarks,
) -> Result<(Values, Aside), Failure> {
    let segments = jpeg::walk(input, index)?;
    let record = match segments.exif {
        Some((start, length)) => {
            let tiff = Tiff::read(Block::new(input, start, length), index, remarks)?;
            exif::record(&tiff, remarks)
        }
        None => Record::default(),
    };
    if segments.extension.is_some() {
        let (start, length) = segments.extension.unwrap_or_default();
        remarks.report(
            &remarks::XMP_EXTENDED,
            place(index, start, length, "XMP"),
            || "there is extended XMP".to_owned(),
        );
    }
    let packet = embedded(input, index, segments.xmp, remarks);
    let nothing = segments.exif.is_none() && segments.xmp.is_none();
    let (mut values, aside) = together(record, packet, nothing, index, remarks);
    if let Some((width, height)) = segments.size {
        set_pixels(&mut values, &aside, [width, height], index);
    }
    Ok((values, aside))
}

/// The size in the frame header, where no metadata says it. The size of the sensor does not follow
/// from it: it may be that of a copy with fewer pixels.
fn set_pixels(values: &mut Values, aside: &Aside, size: [u32; 2], index: u32) {
    let names = ["resolution-width", "resolution-height"];
    let known =
        |name: &str| values::fact(&values.take, name).is_some() || aside.lacks("take", name);
    if names.into_iter().any(known) {
        return;
    }
    for (name, pixels) in names.into_iter().zip(size) {
        let at = place(index, 0, 0, "JPEG frame header");
        let fact = values::number_fact(name, f64::from(pixels), "", Some(at));
        values.take.push(fact);
    }
}

fn read_tiff(
    input: &dyn Input,
    index: u32,
    remarks: &mut Remarks,
) -> Result<(Values, Aside), Failure> {
    let tiff = Tiff::read(Block::whole(input), index, remarks)?;
    let record = exif::record(&tiff, remarks);
    let xmp = tiff.main.entry(tiff::XMP);
    let xmp = xmp.and_then(|entry| tiff.stretch(entry, "XMP", remarks));
    let packet = embedded(input, index, xmp, remarks);
    let nothing = record.iter().next().is_none() && xmp.is_none();
    Ok(together(record, packet, nothing, index, remarks))
}

/// A packet inside an image; if it is damaged, the rest of the file is still good.
fn embedded(
    input: &dyn Input,
    index: u32,
    stretch: Option<Stretch>,
    remarks: &mut Remarks,
) -> Packet {
    let Some((start, length)) = stretch else {
        return Packet::default();
    };
    let at = place(index, start, length, "XMP");
    if length > MOST_BYTES {
        remarks.report(&remarks::XMP_DAMAGED, at, || {
            format!("the XMP packet has {length} bytes, at most {MOST_BYTES} are read")
        });
        return Packet::default();
    }
    let block = Block::new(input, start, length);
    let bytes = block.bytes(0, length).unwrap_or_default();
    match parse(&bytes, index, start, remarks) {
        Ok(packet) => packet,
        Err((damage, at)) => {
            remarks.report_with(
                &remarks::XMP_DAMAGED,
                at,
                || format!("the XMP packet cannot be read: {}", damage.message),
                &format!("only the Exif part is read; {}", damage.help),
            );
            Packet::default()
        }
    }
}

fn read_sidecar(
    input: &dyn Input,
    index: u32,
    remarks: &mut Remarks,
) -> Result<(Values, Aside), Failure> {
    let size = input.size();
    if size > MOST_BYTES {
        return Err(refuse(
            format!("the sidecar has {size} bytes, at most {MOST_BYTES} are read"),
            "remove previews and histories from it, or pass the right file",
            place(index, 0, 0, ""),
        ));
    }
    let bytes = Block::whole(input).bytes(0, size).unwrap_or_default();
    match parse(&bytes, index, 0, remarks) {
        Ok(packet) => Ok(together(Record::default(), packet, false, index, remarks)),
        Err((damage, at)) => Err(refuse(damage.message, damage.help, at)),
    }
}

fn parse(
    bytes: &[u8],
    input: u32,
    start: u64,
    remarks: &mut Remarks,
) -> Result<Packet, (Damage, Place)> {
    let at = |origin: Origin, damage: Damage| {
        let mut at = origin.place((damage.at, 0), "XMP");
        if origin.start.is_none() {
            at.offset = start;
        }
        (damage, at)
    };
    let mut origin = Origin {
        input,
        start: Some(start),
    };
    let (text, aligned) = xml::decode(bytes).map_err(|damage| at(origin, damage))?;
    if !aligned {
        origin.start = None;
    }
    let root = xml::parse(&text).map_err(|damage| at(origin, damage))?;
    let properties = rdf::properties(&root).map_err(|damage| at(origin, damage))?;
    Ok(xmp::packet(properties, origin, remarks))
}

fn together(
    exif: Record,
    packet: Packet,
    nothing: bool,
    index: u32,
    remarks: &mut Remarks,
) -> (Values, Aside) {
    if nothing {
        remarks.report(&remarks::NO_METADATA, place(index, 0, 0, ""), || {
            "the file has neither Exif nor XMP".to_owned()
        });
    }
    let record = merge(exif, packet.record, remarks);
    let mut values = interpret::values(&record, &packet.others, remarks);
    let at = place(index, 0, 0, "XMP private part");
    exact::apply(&packet.aside, &mut values, &at, remarks);
    (values, packet.aside)
}

/// What the file's name says, where the file itself says neither that nor that there is none.
fn add_name(values: &mut Values, aside: &Aside, file: &str) {
    let [frame, source, clip] = FROM_NAME.map(|(owner, name)| !aside.lacks(owner, name));
    if frame
        && values.number("frame").is_none()
        && let Some(number) = number_in_name(file)
    {
        values.numbers.push(values::Number {
            channel: "frame".to_owned(),
            unit: String::new(),
            reference: String::new(),
            value: number as f64,
        });
    }
    if source && values.text("source-file").is_none() {
        values.texts.push(Text {
            channel: "source-file".to_owned(),
            form: "text".to_owned(),
            text: file.to_owned(),
        });
    }
    let name = name::clip(file);
    if clip && !name.is_empty() && values::fact(&values.take, "clip").is_none() {
        values.take.push(fact("clip", name, None));
    }
}

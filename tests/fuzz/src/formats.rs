//! One body a format: what the files are called, how many there are, which options are set.

use ringmark_acquisition_klv::AcquisitionKlv;
use ringmark_ebucore::EbuCore;
use ringmark_exif_xmp::ExifXmp;
use ringmark_fdl::Fdl;
use ringmark_openexr::OpenExr;
use ringmark_opentrackio::OpenTrackIo;
use ringmark_table::Table;
use ringmark_usd_camera::UsdCamera;

use super::pass::{Given, pass};

/// Delimited text. A first line that starts with `{` holds the options.
pub fn table(bytes: &[u8]) {
    let mut given = Given::one("fuzz.csv", bytes);
    if bytes.starts_with(b"{") {
        let end = bytes.iter().position(|&b| b == b'\n');
        let (options, rest) = bytes.split_at(end.map_or(bytes.len(), |end| end + 1));
        let Ok(options) = std::str::from_utf8(options) else {
            return;
        };
        given = Given::one("fuzz.csv", rest);
        given.options = options.trim_end();
    }
    pass::<Table>(&given);
}

/// One OpenEXR file.
pub fn openexr(bytes: &[u8]) {
    pass::<OpenExr>(&Given::one("fuzz.0001.exr", bytes));
}

/// Several OpenEXR files: each magic number starts one.
pub fn openexr_sequence(bytes: &[u8]) {
    const MAGIC: &[u8] = &[0x76, 0x2f, 0x31, 0x01];
    let mut starts: Vec<usize> = (1..bytes.len())
        .filter(|&at| bytes[at..].starts_with(MAGIC))
        .take(15)
        .collect();
    starts.insert(0, 0);
    let mut given = Given::one("fuzz.0001.exr", bytes);
    given.files.clear();
    for (index, &start) in starts.iter().enumerate() {
        let end = starts.get(index + 1).copied().unwrap_or(bytes.len());
        given
            .files
            .push((format!("fuzz.{:04}.exr", index + 1), &bytes[start..end]));
    }
    pass::<OpenExr>(&given);
}

/// OpenTrackIO samples.
pub fn opentrackio(bytes: &[u8]) {
    pass::<OpenTrackIo>(&Given::one("fuzz.jsonl", bytes));
}

/// Acquisition sets as bare KLV.
pub fn acquisition_klv(bytes: &[u8]) {
    pass::<AcquisitionKlv>(&Given::one("fuzz.klv", bytes));
}

/// Acquisition sets within MXF: the same reader, which finds them by itself.
pub fn mxf(bytes: &[u8]) {
    pass::<AcquisitionKlv>(&Given::one("fuzz.mxf", bytes));
}

/// Exif in a JPEG or a TIFF: the first bytes say which.
pub fn exif(bytes: &[u8]) {
    let mut given = Given::one("fuzz.0001.jpg", bytes);
    given.output_extension = Some("xmp");
    pass::<ExifXmp>(&given);
}

/// An XMP sidecar.
pub fn xmp(bytes: &[u8]) {
    let mut given = Given::one("fuzz.0001.xmp", bytes);
    given.output_extension = Some("xmp");
    pass::<ExifXmp>(&given);
}

/// EBUCore acquisition data.
pub fn ebucore(bytes: &[u8]) {
    pass::<EbuCore>(&Given::one("fuzz.xml", bytes));
}

/// OpenUSD cameras as text.
pub fn usd_camera(bytes: &[u8]) {
    pass::<UsdCamera>(&Given::one("fuzz.usda", bytes));
}

/// Framing Decision Lists.
pub fn fdl(bytes: &[u8]) {
    pass::<Fdl>(&Given::one("fuzz.fdl", bytes));
}

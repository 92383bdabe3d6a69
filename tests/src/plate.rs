//! The smallest image file: one grey pixel, with nothing in its header but what must be there.

/// An OpenEXR file of one uncompressed scan line of one half-float pixel. Layout: OpenEXR
/// document *OpenEXR File Layout*.
pub fn plate() -> Vec<u8> {
    let mut file = vec![0x76, 0x2f, 0x31, 0x01, 2, 0, 0, 0];
    let mut attribute = |name: &str, kind: &str, value: &[u8]| {
        file.extend_from_slice(name.as_bytes());
        file.push(0);
        file.extend_from_slice(kind.as_bytes());
        file.push(0);
        file.extend_from_slice(&(value.len() as u32).to_le_bytes());
        file.extend_from_slice(value);
    };
    let mut channels = b"Y\0".to_vec();
    channels.extend_from_slice(&1_u32.to_le_bytes()); // half float
    channels.extend_from_slice(&[0; 4]); // not perceptually linear, reserved
    channels.extend_from_slice(&[1, 0, 0, 0, 1, 0, 0, 0, 0]); // sampling, end of the list
    let one = 1.0_f32.to_le_bytes();
    attribute("channels", "chlist", &channels);
    attribute("compression", "compression", &[0]);
    attribute("dataWindow", "box2i", &[0; 16]);
    attribute("displayWindow", "box2i", &[0; 16]);
    attribute("lineOrder", "lineOrder", &[0]);
    attribute("pixelAspectRatio", "float", &one);
    attribute("screenWindowCenter", "v2f", &[0; 8]);
    attribute("screenWindowWidth", "float", &one);
    file.push(0);
    let chunk = file.len() as u64 + 8;
    file.extend_from_slice(&chunk.to_le_bytes());
    file.extend_from_slice(&0_u32.to_le_bytes()); // line 0
    file.extend_from_slice(&2_u32.to_le_bytes()); // bytes of pixels
    file.extend_from_slice(&[0x00, 0x38]); // 0.5
    file
}

//! Ancillary packets of a frame as MXF holds them (SMPTE ST 436), and the acquisition packets
//! among them: DID 43h, SDID 05h.
//!
//! Layout from memory, confirmed by what an independent decoder makes of our files: the number of
//! packets in 16 bits; for each the line (16), wrapping (8) and sample coding (8), the number of
//! samples (16), an array head (number and size of elements, 32 bits each) and the samples, padded.
//! In the 8-bit codings the samples are DID, SDID, data count and as many data bytes.

use crate::klv::number;

/// DID and SDID of acquisition packets.
const ACQUISITION: [u8; 2] = [0x43, 0x05];

/// Bytes in front of the samples of a packet.
const HEAD: usize = 14;

/// What is wrong with an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Defect {
    /// The element ends inside a packet.
    Cut,
    /// Samples of a coding that is not read, which may hold an acquisition packet.
    Coding(u8),
}

/// Appends the payload of the element's acquisition packets to `out`: KLV that packets of at most
/// 255 bytes split, each with a byte in front that counts them.
pub fn payload(element: &[u8], out: &mut Vec<u8>) -> Result<(), Defect> {
    let (count, mut rest) = element.split_at_checked(2).ok_or(Defect::Cut)?;
    let mut strange = None;
    for _ in 0..number(count) {
        let (head, tail) = rest.split_at_checked(HEAD).ok_or(Defect::Cut)?;
        let coding = head[3];
        let samples = number(&head[4..6]) as usize;
        // Count and size are 32 bits each: their product fits.
        let length = number(&head[6..10]) * number(&head[10..14]);
        let taken = usize::try_from(length)
            .ok()
            .and_then(|length| tail.split_at_checked(length));
        let (array, tail) = taken.ok_or(Defect::Cut)?;
        rest = tail;
        match coding {
            // Eight bits of luma, colour difference or both; 10 to 12 with wrong parity.
            4..=6 | 10..=12 => packet(&array[..samples.min(array.len())], out)?,
            _ => strange = Some(Defect::Coding(coding)),
        }
    }
    strange.map_or(Ok(()), Err)
}

fn packet(samples: &[u8], out: &mut Vec<u8>) -> Result<(), Defect> {
    let Some((ids, rest)) = samples.split_first_chunk::<2>() else {
        return Ok(());
    };
    if *ids != ACQUISITION {
        return Ok(());
    }
    let (&count, data) = rest.split_first().ok_or(Defect::Cut)?;
    let data = data.get(..usize::from(count)).ok_or(Defect::Cut)?;
    out.extend_from_slice(data.get(1..).unwrap_or_default());
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn element(packets: &[(u8, &[u8])]) -> Vec<u8> {
        let mut bytes = (packets.len() as u16).to_be_bytes().to_vec();
        for (coding, samples) in packets {
            let padded = samples.len().next_multiple_of(4);
            bytes.extend_from_slice(&[0, 9, 1, *coding, 0, samples.len() as u8]);
            bytes.extend_from_slice(&(padded as u32).to_be_bytes());
            bytes.extend_from_slice(&[0, 0, 0, 1]);
            bytes.extend_from_slice(samples);
            bytes.resize(bytes.len() + padded - samples.len(), 0);
        }
        bytes
    }

    fn read(packets: &[(u8, &[u8])]) -> (Vec<u8>, Result<(), Defect>) {
        let mut out = Vec::new();
        let result = payload(&element(packets), &mut out);
        (out, result)
    }

    #[test]
    fn payloads_are_joined_and_other_packets_passed_over() {
        let packets: [(u8, &[u8]); 4] = [
            (4, &[0x61, 1, 3, 7, 7, 7]),
            (4, &[0x43, 5, 3, 1, 10, 11]),
            (5, &[0x43, 5, 2, 2, 12]),
            (4, &[0x43, 6, 2, 2, 13]),
        ];
        assert_eq!(read(&packets), (vec![10, 11, 12], Ok(())));
        assert_eq!(read(&[]), (vec![], Ok(())));
    }

    #[test]
    fn what_is_cut_or_strange_is_told() {
        let coded: [(u8, &[u8]); 2] = [(7, &[0x43, 5, 1, 1]), (4, &[0x43, 5, 2, 1, 9])];
        assert_eq!(read(&coded), (vec![9], Err(Defect::Coding(7))));
        assert_eq!(read(&[(4, &[0x43, 5, 9, 1, 2])]).1, Err(Defect::Cut));
        let whole = element(&coded);
        for end in 0..whole.len() {
            assert!(payload(&whole[..end], &mut Vec::new()).is_err(), "{end}");
        }
        let huge = [
            0, 1, 0, 9, 1, 4, 0, 4, 255, 255, 255, 255, 255, 255, 255, 255, 1,
        ];
        assert_eq!(payload(&huge, &mut Vec::new()), Err(Defect::Cut));
    }
}

//! Small plots for terminals. A character of braille holds two columns of four dots.

/// Dots of a character cell by column and row: the bits of Unicode's braille patterns.
const DOTS: [[u8; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];

/// A field of dots, `width` by `height` characters; x to the right and y upwards, both from 0 to 1.
pub(crate) struct Canvas {
    width: usize,
    height: usize,
    cells: Vec<u8>,
    marks: Vec<Option<char>>,
}

impl Canvas {
    pub fn new(width: usize, height: usize) -> Self {
        let (width, height) = (width.max(1), height.max(1));
        Canvas {
            width,
            height,
            cells: vec![0; width * height],
            marks: vec![None; width * height],
        }
    }

    /// Dots from side to side.
    pub fn columns(&self) -> usize {
        self.width * 2
    }

    fn dot_at(&self, x: f64, y: f64) -> Option<(usize, usize)> {
        if !(x.is_finite() && y.is_finite()) {
            return None;
        }
        let scale =
            |value: f64, dots: usize| (value.clamp(0.0, 1.0) * (dots - 1) as f64).round() as usize;
        Some((
            scale(x, self.width * 2),
            self.height * 4 - 1 - scale(y, self.height * 4),
        ))
    }

    fn set(&mut self, column: usize, row: usize) {
        let cell = row / 4 * self.width + column / 2;
        if let (Some(cell), Some(bit)) = (
            self.cells.get_mut(cell),
            DOTS.get(column % 2).and_then(|c| c.get(row % 4)),
        ) {
            *cell |= bit;
        }
    }

    /// A straight line; nothing where an end is no number.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let (Some(a), Some(b)) = (self.dot_at(from.0, from.1), self.dot_at(to.0, to.1)) else {
            return;
        };
        let steps = a.0.abs_diff(b.0).max(a.1.abs_diff(b.1)).max(1);
        let between = |a: usize, b: usize, step: usize| {
            let part = step as f64 / steps as f64;
            (a as f64 + (b as f64 - a as f64) * part).round() as usize
        };
        for step in 0..=steps {
            self.set(between(a.0, b.0, step), between(a.1, b.1, step));
        }
    }

    /// A vertical bar in a column of dots.
    pub fn bar(&mut self, column: usize, low: f64, high: f64) {
        if let (Some((_, bottom)), Some((_, top))) = (self.dot_at(0.0, low), self.dot_at(0.0, high))
        {
            (top..=bottom).for_each(|row| self.set(column, row));
        }
    }

    /// Every second dot of every second column between two heights: a field that lines stand out from.
    pub fn shade(&mut self, x: f64, low: f64, high: f64) {
        if let (Some((column, bottom)), Some((_, top))) =
            (self.dot_at(x, low), self.dot_at(x, high))
            && column % 2 == 0
        {
            (top..=bottom)
                .filter(|row| row % 2 == 0)
                .for_each(|row| self.set(column, row));
        }
    }

    /// A character over the dots.
    pub fn mark(&mut self, x: f64, y: f64, mark: char) {
        if let Some((column, row)) = self.dot_at(x, y)
            && let Some(cell) = self.marks.get_mut(row / 4 * self.width + column / 2)
        {
            *cell = Some(mark);
        }
    }

    /// The rows from top to bottom, without spaces at their ends.
    pub fn rows(&self) -> impl Iterator<Item = String> {
        self.cells
            .chunks(self.width)
            .zip(self.marks.chunks(self.width))
            .map(|(cells, marks)| {
                let row: String = cells
                    .iter()
                    .zip(marks)
                    .map(|(&bits, mark)| match (mark, bits) {
                        (Some(mark), _) => *mark,
                        (None, 0) => ' ',
                        (None, bits) => char::from_u32(0x2800 + u32::from(bits)).unwrap_or(' '),
                    })
                    .collect();
                row.trim_end().to_owned()
            })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    fn drawn(canvas: &Canvas) -> Vec<String> {
        canvas.rows().collect()
    }

    #[test]
    fn corners_and_lines() {
        let mut canvas = Canvas::new(2, 1);
        canvas.line((0.0, 0.0), (0.0, 0.0));
        assert_eq!(drawn(&canvas), ["⡀"]);
        canvas.line((1.0, 1.0), (1.0, 1.0));
        assert_eq!(drawn(&canvas), ["⡀⠈"]);
        let mut canvas = Canvas::new(2, 1);
        canvas.line((0.0, 0.0), (1.0, 1.0));
        assert_eq!(drawn(&canvas), ["⡠⠊"]);
        canvas.mark(1.0, 1.0, 'o');
        assert_eq!(drawn(&canvas), ["⡠o"]);
    }

    #[test]
    fn bars() {
        let mut canvas = Canvas::new(1, 2);
        canvas.bar(0, 0.0, 1.0);
        canvas.bar(1, 0.0, 0.0);
        assert_eq!(drawn(&canvas), ["⡇", "⣇"]);
        let mut canvas = Canvas::new(2, 1);
        (0..4).for_each(|dot| canvas.shade(f64::from(dot) / 3.0, 0.0, 1.0));
        assert_eq!(drawn(&canvas), ["⠅⠅"]);
    }

    proptest! {
        #[test]
        fn never_panics(width in 0usize..20, height in 0usize..5, a in any::<(f64, f64)>(), b in any::<(f64, f64)>()) {
            let mut canvas = Canvas::new(width, height);
            canvas.line(a, b);
            canvas.bar(width * 3, a.0, b.0);
            canvas.shade(b.0, a.1, b.1);
            canvas.mark(b.0, b.1, 'x');
            prop_assert!(drawn(&canvas).iter().all(|row| row.chars().count() <= width.max(1)));
        }
    }
}

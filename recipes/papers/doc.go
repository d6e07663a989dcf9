// Package papers prints: batch sheet, recipe card, match certificate, chip
// plan, labels.
//
// Stage 5 of 6: colour, readings, calibration, recipe, batch sheet, archive.
//
// Each paper is a plain struct that the caller fills. It is composed once, into
// the same few blocks (facts, colours side by side, a table, points, a clock,
// a verdict, lines to sign), and [Write] sets these blocks as terminal text, as
// a page of HTML or as PDF, so that what is learnt on one is known on all. CSV
// and JSON carry the figures instead of the blocks.
//
//   - Text is at most Options.Width columns wide, and ASCII but for ± and what
//     people have named themselves.
//   - CSV has one header row and a decimal point. A text cell that a
//     spreadsheet would take for a formula gets an apostrophe in front.
//   - JSON keys do not change; a key may be added.
//   - HTML is one file that asks for nothing else, and prints on A4 or Letter.
//   - PDF holds the glyphs it uses of Liberation Sans (SIL Open Font License,
//     font/OFL.txt).
//     What these fonts do not know (Chinese, Arabic, emoji ...) is printed as
//     an empty box there; the HTML page shows it, and so does what is copied
//     or heard of the PDF. It is tagged (package tagged): who listens hears
//     headings, lists, and tables with their headers, in the HTML's order.
//
// Equal papers and options give equal bytes: there is no clock here, Made is
// the date of the document too. Nothing rests on colour alone, so a black and
// white printer serves; a swatch is a hint from a screen's or printer's
// colours, never a standard to match by, and carries its Lab beside it.
//
// Every paper but the labels has a QR code of its [Ref], short text such as
// masstone:batch/B7 that [ParseRef] reads back; each label has its own.
package papers

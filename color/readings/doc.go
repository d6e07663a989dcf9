// Package readings turns instrument and spreadsheet files into named readings.
//
// Stage 1 of 6: readings -> colour -> calibration -> recipe -> batch sheet -> archive.
//
// A file is read whole, checked whole, and either accepted or refused: every
// bad cell becomes one line naming file, row, column and fix, and a refused
// file gives nothing. What was understood (separator, decimal mark, percent or
// fraction, conditions) comes back as one line in Table.Notes, so that a person
// can confirm it; what cannot be known from the file is refused with the option
// that settles it. What the file states of its conditions is kept, above a table,
// in its headers and in its rows; an option that contradicts it is refused.
//
// Units: loadings phr (grams of pigment paste per 100 g of mixed resin),
// thickness mm, reflectance factor as a fraction 0..1, wavelength nm, L* 0..100.
//
// # Formats
//
//   - CSV with `#` comments and a header row; comma, semicolon or tab.
//   - Text with bars between its columns, or aligned by blanks.
//   - XLSX and ODS (ISO/IEC 26300), one worksheet.
//   - Any of these with the readings in columns.
//   - ISO 28178 text (keywords, then a data format and a data block).
//   - ISO 17972-1 XML (CxF3): Lab and reflectance spectra.
//
// # Columns
//
// Names, backings, thickness, conditions and Lab columns are known by the words
// the trade uses for them (see [Options.Map] for the rest); a pigment column is
// one whose header is a known pigment code; a band is R400, 400 nm, nm400 or
// SPECTRAL_400. Lab columns carry their illuminant, L_D65,a_D65,b_D65, in as
// many sets as were read; where there is no Lab, XYZ or LCh columns do. SCI, SCE,
// M0 to M3 in a header say the way of reading.
package readings

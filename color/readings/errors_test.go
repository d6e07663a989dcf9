package readings_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

const chipsHeader = "chip,backing,thickness_mm,WH,RD,L_D65,a_D65,b_D65\n"

// Every way a cell can be wrong, with the line a person reads.
func TestBadCells(t *testing.T) {
	for _, c := range []struct{ rows, want string }{
		{"A,white,3,1,0,50,1,x", `chips.csv:2: A: column b_D65: "x" is not a number; write a plain number`},
		{"A,white,3,1,0,50,1,", "chips.csv:2: A: column b_D65: is empty; write the reading, or - in all of L, a, b where none was taken"},
		{"A,white,3,1,0,50,1,NaN", `chips.csv:2: A: column b_D65: "NaN" is not a number; write a plain number`},
		{"A,white,3,1,0,50,1,Inf", `chips.csv:2: A: column b_D65: "Inf" is not a number; write a plain number`},
		{"A,white,3,1,0,50,1,0x1p-2", `chips.csv:2: A: column b_D65: "0x1p-2" is not a number; write a plain number`},
		{"A,white,3,1,0,50,1,1e999", `chips.csv:2: A: column b_D65: "1e999" is too large for a number; write a plain number`},
		{"A,white,3,1,0,50,1,-", `chips.csv:2: A: column b_D65: "-" is not a number; write a plain number`},
		{"A,white,3,1,0,101,1,1", "chips.csv:2: A: column L_D65: L* 101 is outside 0..100; check the column order and the calibration of the instrument"},
		{"A,white,3,1,0,-1,1,1", "chips.csv:2: A: column L_D65: L* -1 is outside 0..100; check the column order and the calibration of the instrument"},
		{"A,white,3,1,0,50,900,1", "chips.csv:2: A: column a_D65: value 900 is impossible for a surface; check the column and its decimal mark"},
		{"A,white,0,1,0,50,1,1", "chips.csv:2: A: column thickness_mm: thickness 0 is not above 0; write the thickness of the piece in mm"},
		{"A,white,3000,1,0,50,1,1", "chips.csv:2: A: column thickness_mm: thickness 3000 mm is impossible here; write millimetres"},
		{"A,,3,1,0,50,1,1", "chips.csv:2: A: column backing: is empty; name the backing, such as white or black"},
		{",white,3,1,0,50,1,1", "chips.csv:2: column chip: is empty; name the chip"},
		{"A,white,3,,0,50,1,1", "chips.csv:2: A: column WH: is empty; write 0 if there is none in it"},
		{"A,white,3,-1,0,50,1,1", "chips.csv:2: A: column WH: loading -1 phr is negative; write grams of paste per 100 g of mixed resin"},
		{"A,white,3,60,41,50,1,1", "chips.csv:2: A: loadings add up to 101 phr; write grams of paste per 100 g of mixed resin; a sum above 100 is impossible"},
		{"A,white,3,1,0,50,1,1\nA,white,3,1,0,60,1,1", "chips.csv:3: A: the name already stands in row 2; give each chip its own name, or say ⟦repeats⟧ if these are readings of one piece"},
		{"A,white,3,1", "chips.csv:2: A: column RD: the row ends here, after 4 of 8 cells; fill in the missing cells"},
		{"A,white,3,0,1,0,5,50,1,2", "chips.csv:2: A: 10 cells where the header has 8; decimal commas between comma separators? export with semicolons or with decimal points"},
		{"A,white,3,1,0,50,120,-120", "chips.csv:2: A: chroma 169.7 at L* 50.0: no surface passes 117.0 there under D65/10; check columns and illuminant; a piece that fluoresces cannot be used"},
		{`A,"white,3,1,0,50,1,1`, `chips.csv:2: extraneous or missing " in quoted-field; close the quotation marks, or write an inch mark as in`},
		{"A\x01,white,3,1,0,50,1,x", `chips.csv:2: A : column b_D65: "x" is not a number; write a plain number`},
	} {
		table, err := readings.Chips(strings.NewReader(chipsHeader+c.rows+"\n"), readings.Options{File: "chips.csv", KnownPigments: shop()})
		require.Error(t, err, c.rows)
		require.Equal(t, c.want, err.Error(), c.rows)
		require.Zero(t, table, "nothing comes back from a refused file")
		var one *readings.RowError
		require.True(t, errors.As(err, &one), "a RowError is within reach")
		require.Equal(t, "chips.csv", one.File)
	}
}

func TestBadHeaders(t *testing.T) {
	row := "A,white,3,1,50,1,1\n"
	for _, c := range []struct{ header, want string }{
		{"chip,backing,thickness_mm,RR,L_D65,a_D65,b_D65", `f.csv:1: column RR: is unknown; did you mean RD? a pigment must be imported first; else ⟦map=RR=COLUMN⟧ or ⟦map=RR=ignore⟧` + "\nf.csv:1: no column is a known pigment; import the pigments first, then use their codes as headers"},
		{"chip,bakcing,thickness_mm,RD,L_D65,a_D65,b_D65", `f.csv:1: column bakcing: is unknown; did you mean backing? a pigment must be imported first; else ⟦map=bakcing=COLUMN⟧ or ⟦map=bakcing=ignore⟧` + "\nf.csv:1: no column backing; add it (white, black, ...), or say ⟦over⟧ for the whole file"},
		{"chip,backing,thickness_mm,RD,L,a,b", "f.csv:1: column L: does not say its illuminant; add ⟦illuminant=D65⟧ ⟦observer=10⟧, or name the columns L_D65,a_D65,b_D65"},
		{"chip,backing,thickness_mm,RD,L_D65,a_D65,b_A", "f.csv:1: column a_D65: has no b* column beside it; a colour needs all of L, a, b; add the missing column\nf.csv:1: column b_A: has no L* column beside it; a colour needs all of L, a, b; add the missing column\nf.csv:1: column b_A: has no a* column beside it; a colour needs all of L, a, b; add the missing column"},
		{"chip,backing,thickness_mm,RD,R400,R410,R420", "f.csv:1: column R400: starts bands of 400 to 420 nm; the spectrum must cover 400 to 700 nm"},
		{"chip,backing,thickness_mm,RD,R400,R410,R430", "f.csv:1: column R430: follows 410 nm, out of step with the 10 nm before; a band is missing or misnamed; bands must be evenly spaced"},
		{"chip,backing,thickness_mm,RD,R400,R430,R460", "f.csv:1: column R400: starts bands 30 nm apart; export the spectrum at 1, 5, 10 or 20 nm"},
		{"chip,backing,thickness_mm,RD,RD,date,note", `f.csv:1: column RD: means the same as column RD; keep one, or ⟦map=RD=ignore⟧` + "\nf.csv:1: no column holds a reading; add L_D65,a_D65,b_D65 or R400...R700"},
	} {
		_, err := readings.Chips(strings.NewReader(c.header+"\n"+row), readings.Options{File: "f.csv", KnownPigments: shop()})
		require.Error(t, err, c.header)
		require.Equal(t, c.want, err.Error(), c.header)
	}
}

func TestAllBadRowsInOnePassAndCapped(t *testing.T) {
	var b strings.Builder
	b.WriteString(chipsHeader)
	for i := range 150 {
		fmt.Fprintf(&b, "C%d,white,0,1,0,50,1,1\n", i)
	}
	_, err := readings.Chips(strings.NewReader(b.String()), readings.Options{File: "f.csv", KnownPigments: shop()})
	lines := strings.Split(err.Error(), "\n")
	require.Len(t, lines, 21)
	require.True(t, strings.HasPrefix(lines[19], "f.csv:21: C19:"))
	require.Equal(t, "... and 130 more like these", lines[20])
	var all *readings.Errors
	require.True(t, errors.As(err, &all))
	require.Equal(t, 130, all.More)
}

// The errors of a row are one per cell, not one per row.
func TestEachBadCellIsTold(t *testing.T) {
	_, err := readings.Chips(strings.NewReader(chipsHeader+"A,,0,-1,x,150,,nan\n"), readings.Options{File: "f.csv", KnownPigments: shop()})
	require.Len(t, strings.Split(err.Error(), "\n"), 7)
}

// Plain columns take the option; an option against the file is refused.
func TestOptionAgainstTheFile(t *testing.T) {
	o := readings.Options{File: "p.txt", Condition: color.D65Ten()}
	_, err := readings.Samples(openTest(t, "iso28178/pairs.txt"), o)
	require.EqualError(t, err, "p.txt: says illuminant D50, but ⟦illuminant⟧ says D65; leave the option out, or correct the file\n"+
		"p.txt: says observer 2, but ⟦observer⟧ says 10; leave the option out, or correct the file")
}

func TestFilesThatAreNoTables(t *testing.T) {
	for _, c := range []struct{ data, want string }{
		{"", "f: is empty; it needs a header row and one row per reading"},
		{" \n\n", "f: is empty; it needs a header row and one row per reading"},
		{"# nothing\n", "f: holds no rows; it needs a header row and one row per reading"},
		{chipsHeader, "f:1: no rows below the header; add one row per reading"},
		{"%PDF-1.4", "f: is a PDF; export the readings as CSV"},
		{"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", "f: is an old or a password-protected workbook; save it as .xlsx without a password, or as CSV"},
		{"PK\x03\x04 and no more", "f: is no readable workbook; export the readings as CSV"},
		{"chip\x00,L", "f: is not text; export the readings as CSV, XLSX, ISO 28178 text or CxF3"},
		{"<html><body/></html>", `f:1: is XML but not of ISO 17972: it opens with "html"; export CxF3, CSV or ISO 28178 text`},
		{"chip" + strings.Repeat(",", 5000) + "\n", "f:1: has more than 1000 columns; is this the right file?"},
	} {
		_, err := readings.Chips(strings.NewReader(c.data), readings.Options{File: "f", KnownPigments: shop()})
		require.EqualError(t, err, c.want)
	}
}

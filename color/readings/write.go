package readings

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"masstone/color"
	"masstone/color/cell"
)

// ExchangeHeader is what an ISO 28178 file says of itself.
type ExchangeHeader struct {
	Originator string // program or shop that wrote the file
	Descriptor string // what the readings are of
	Created    string // date, as ISO 8601
}

// field is a column to write.
type field struct {
	csv, exchange string // its headers
	text          bool   // words, not a number
	value         func(Row) string
}

// textFields are the columns that hold words, by their header in CSV.
var textFields = []string{"name", "backing", "casting", "geometry", "specular", "note", "m_condition", "filter", "aperture", "instrument", "serial", "date", "temperature", "stated_geometry"}

// fieldsOf lists the columns a table needs, and no more. The error is a table
// whose spectra are on several grids, which no one header can name.
func fieldsOf(t Table) ([]field, error) {
	fields := []field{{"name", "SAMPLE_NAME", true, func(r Row) string { return oneLine(r.Name, 200) }}}
	add := func(csv, exchange string, value func(Row) string) {
		fields = append(fields, field{csv, exchange, slices.Contains(textFields, csv), value})
	}
	uses := func(has func(Row) bool) bool {
		for _, r := range t.Rows {
			if has(r) {
				return true
			}
		}
		return false
	}
	if uses(func(r Row) bool { return r.Backing != "" }) {
		add("backing", "BACKING", func(r Row) string { return oneLine(r.Backing, 100) })
	}
	if uses(func(r Row) bool { return r.ThicknessMM != 0 }) {
		add("thickness_mm", "THICKNESS_MM", func(r Row) string { return exact(r.ThicknessMM) })
	}
	if uses(func(r Row) bool { return r.Casting != "" }) {
		add("casting", "CASTING", func(r Row) string { return oneLine(r.Casting, 200) })
	}
	if uses(func(r Row) bool { return r.ChipGrams != 0 }) {
		add("chip_grams", "CHIP_GRAMS", func(r Row) string { return exact(r.ChipGrams) })
	}
	if uses(func(r Row) bool { return r.ScaleGrams != 0 }) {
		add("scale_g", "SCALE_G", func(r Row) string { return exact(r.ScaleGrams) })
	}
	if uses(func(r Row) bool { return r.Measurement.Geometry != "" }) {
		add("geometry", "GEOMETRY", func(r Row) string { return string(r.Measurement.Geometry) })
	}
	if uses(func(r Row) bool { return r.Measurement.Specular != "" }) {
		add("specular", "SPECULAR_MODE", func(r Row) string { return string(r.Measurement.Specular) })
	}
	for i, p := range (&Circumstances{}).parts() {
		part := func(r Row) string { return *r.Circumstances.parts()[i].text }
		if uses(func(r Row) bool { return part(r) != "" }) {
			word := map[bool]string{true: "m_condition", false: strings.ReplaceAll(p.name, " ", "_")}[i == 0]
			add(word, strings.ToUpper(word), part)
		}
	}
	for _, code := range t.Pigments {
		add(code, code, func(r Row) string { return exact(r.Loadings[code]) })
	}
	for i, under := range conditionsOf(t.Rows) {
		for axis, letter := range []string{"L", "a", "b"} {
			exchange := "LAB_" + strings.ToUpper(letter)
			if i > 0 { // the standard names one set; the keywords say its light
				exchange = fmt.Sprintf("%s_%s_%d", exchange, under.Illuminant, under.Observer)
			}
			add(fmt.Sprintf("%s_%s_%d", letter, under.Illuminant, under.Observer), exchange, func(r Row) string {
				for _, l := range r.Labs {
					if l.Under == under {
						return exact(l.Values()[axis])
					}
				}
				return notRead
			})
		}
	}
	bands, err := bandFields(t.Rows)
	if err != nil {
		return nil, err
	}
	fields = append(fields, bands...)
	if uses(func(r Row) bool { return r.Note != "" }) {
		add("note", "NOTE", func(r Row) string { return oneLine(r.Note, 1000) })
	}
	return fields, nil
}

func conditionsOf(rows []Row) []color.Condition {
	var out []color.Condition
	seen := map[color.Condition]bool{}
	for _, r := range rows {
		for _, l := range r.Labs {
			if !seen[l.Under] {
				seen[l.Under] = true
				out = append(out, l.Under)
			}
		}
	}
	return out
}

func bandFields(rows []Row) ([]field, error) {
	var grid *color.Spectrum
	for _, r := range rows {
		switch s := r.Spectrum; {
		case s == nil:
		case grid == nil:
			grid = s
		case s.FirstNM != grid.FirstNM || s.StepNM != grid.StepNM || len(s.R) != len(grid.R):
			return nil, fmt.Errorf("%s: spectrum on other bands than the rows before; write such readings to a file of their own", oneLine(r.Name, 40))
		}
	}
	if grid == nil {
		return nil, nil
	}
	var out []field
	for i := range grid.R {
		nm := grid.FirstNM + i*grid.StepNM
		out = append(out, field{fmt.Sprintf("R%d", nm), fmt.Sprintf("SPECTRAL_NM%d", nm), false, func(r Row) string {
			if r.Spectrum == nil {
				return notRead
			}
			return exact(r.Spectrum.R[i])
		}})
	}
	return out, nil
}

// exact writes a number so that it reads back as the same one.
func exact(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// WriteCSV writes a table so that Chips, Mixtures or Samples read the same
// table again, given the same pigments.
func WriteCSV(w io.Writer, t Table) error {
	fields, err := fieldsOf(t)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	for i, f := range fields {
		comma(b, i)
		b.WriteString(csvCell(cell.Safe(f.csv)))
	}
	b.WriteByte('\n')
	for _, r := range t.Rows {
		for i, f := range fields {
			comma(b, i)
			text := f.value(r)
			if f.text || text != notRead {
				text = cell.Safe(text)
			}
			b.WriteString(csvCell(text))
		}
		b.WriteByte('\n')
	}
	return b.Flush()
}

func comma(b *bufio.Writer, i int) {
	if i > 0 {
		b.WriteByte(',')
	}
}

// csvCell quotes a cell as RFC 4180 has it, and one that would open a comment.
func csvCell(s string) string {
	if strings.ContainsAny(s, "\",;\t") || strings.HasPrefix(s, "#") {
		return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	return s
}

// standardField knows the names ISO 28178 defines itself; others are announced
// by KEYWORD.
var standardField = regexp.MustCompile(`^(SAMPLE_ID|SAMPLE_NAME|LAB_[LAB])$`)

// WriteText writes a table as ISO 28178 text. The first set of Lab stands in
// LAB_L, LAB_A, LAB_B with its light in the keywords, further ones in fields
// that name theirs; bands are fractions in SPECTRAL_NM400 and so on. The format
// cannot say that a reading was not taken: a row that lacks one which others have
// is left out, and leftOut names it. The error is one of writing, spectra on
// several sets of bands, or no row that is whole.
func WriteText(w io.Writer, t Table, h ExchangeHeader) (leftOut []string, err error) {
	fields, err := fieldsOf(t)
	if err != nil {
		return nil, err
	}
	rows := slices.DeleteFunc(slices.Clone(t.Rows), func(r Row) bool {
		lacks := slices.ContainsFunc(fields, func(f field) bool { return !f.text && f.value(r) == notRead })
		if lacks {
			leftOut = append(leftOut, oneLine(r.Name, 40))
		}
		return lacks
	})
	if len(rows) == 0 {
		return nil, fmt.Errorf("no row has all of the readings that others have, which ISO 28178 needs; write Lab and spectra to files of their own, or write CSV")
	}
	t.Rows = rows
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "ISO28178\n\nORIGINATOR\t%s\nDESCRIPTOR\t%s\nCREATED\t%s\n", quotedWord(h.Originator), quotedWord(h.Descriptor), quotedWord(h.Created))
	if under := conditionsOf(t.Rows); len(under) > 0 {
		fmt.Fprintf(b, "WEIGHTING_FUNCTION\t\"ILLUMINANT, %s\"\nWEIGHTING_FUNCTION\t\"OBSERVER, %d degree\"\n", under[0].Illuminant, under[0].Observer)
	}
	for _, f := range fields {
		if !standardField.MatchString(f.exchange) {
			fmt.Fprintf(b, "KEYWORD\t%s\n", quotedWord(f.exchange))
		}
	}
	fmt.Fprintf(b, "\nNUMBER_OF_FIELDS\t%d\nBEGIN_DATA_FORMAT\nSAMPLE_ID", len(fields)+1)
	for _, f := range fields {
		b.WriteString("\t" + f.exchange)
	}
	fmt.Fprintf(b, "\nEND_DATA_FORMAT\n\nNUMBER_OF_SETS\t%d\nBEGIN_DATA\n", len(t.Rows))
	for i, r := range t.Rows {
		b.WriteString(strconv.Itoa(i + 1))
		for _, f := range fields {
			v := f.value(r)
			if f.text {
				v = quotedWord(v)
			}
			b.WriteString("\t" + v)
		}
		b.WriteByte('\n')
	}
	b.WriteString("END_DATA\n")
	return leftOut, b.Flush()
}

// quotedWord writes text as one quoted word.
func quotedWord(s string) string {
	return `"` + strings.ReplaceAll(oneLine(s, 1000), `"`, `""`) + `"`
}

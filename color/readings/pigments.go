package readings

import (
	"fmt"
	"io"
	"regexp"
	"strings"
)

// pigmentField is a column of a pigment list.
type pigmentField int

const (
	codeField pigmentField = iota + 1
	ciNameField
	pigmentNameField
	supplierField
	lotField
	densityField
	maxPHRField
	priceField
	stockField
	heatField
	lightField
	strengthField
	pigmentNoteField
	ignoredField
)

// pigmentWords are the headers of pigment lists, in the form of normalHeader.
// Common practice, no source.
var pigmentWords = map[string]pigmentField{
	"code": codeField, "pigment": codeField, "pigmentcode": codeField, "shortcode": codeField,
	"ciname": ciNameField, "ci": ciNameField, "colourindex": ciNameField, "colorindex": ciNameField, "cigenericname": ciNameField, "c.i.name": ciNameField, "cinumber": ciNameField,
	"name": pigmentNameField, "pigmentname": pigmentNameField, "product": pigmentNameField, "productname": pigmentNameField, "paste": pigmentNameField,
	"supplier": supplierField, "maker": supplierField, "vendor": supplierField, "manufacturer": supplierField,
	"lot": lotField, "batch": lotField, "lotno": lotField,
	"density": densityField, "densitygml": densityField, "densityg/ml": densityField, "densityg/cm3": densityField, "densityg/cm³": densityField, "sg": densityField, "specificgravity": densityField,
	"maxphr": maxPHRField, "max": maxPHRField, "maxloading": maxPHRField, "maxloadingphr": maxPHRField,
	"priceperkg": priceField, "price": priceField, "price/kg": priceField, "pricekg": priceField, "costperkg": priceField, "cost/kg": priceField,
	"stockg": stockField, "stock": stockField, "stockgrams": stockField, "onhandg": stockField, "onhand": stockField,
	"heatclass": heatField, "heat": heatField, "heatresistance": heatField, "heatfastness": heatField,
	"lightclass": lightField, "light": lightField, "lightfastness": lightField, "bluewool": lightField,
	"strength": strengthField, "strengthpercent": strengthField, "strength%": strengthField, "pastestrength": strengthField, "pastestrengthpercent": strengthField, "paste%": strengthField, "pastepercent": strengthField,
	"note": pigmentNoteField, "notes": pigmentNoteField, "comment": pigmentNoteField, "comments": pigmentNoteField, "remark": pigmentNoteField, "remarks": pigmentNoteField,
}

var pigmentCode = regexp.MustCompile(`^[\p{L}][\p{L}\p{N}._/-]{0,15}$`)

// Pigments reads a pigment list: a code and whatever else is known of it.
// Empty cells are allowed everywhere but in the code. Errors as for Chips.
func Pigments(r io.Reader, o Options) ([]Pigment, error) {
	if o.File == "" {
		o.File = "input"
	}
	s, err := openWith(r, &o, func(cells []string) int { return knownPigment(cells, &o) })
	if err != nil {
		return nil, wrap(err, o.File)
	}
	return pigmentList(s, &o)
}

// knownPigment counts the headers that mean something in a pigment list.
func knownPigment(cells []string, o *Options) int {
	n := 0
	for _, c := range cells {
		if pigmentFieldOf(c, o) != 0 {
			n++
		}
	}
	return n
}

func pigmentList(s *sheet, o *Options) ([]Pigment, error) {
	p := &problems{file: o.File}
	fields, where := pigmentPlan(s, o, p)
	numeric := []int{}
	for i, f := range fields {
		switch f {
		case densityField, maxPHRField, priceField, stockField, strengthField:
			numeric = append(numeric, i)
		}
	}
	decimal, err := decimalOf(s, numeric, true, o)
	if err != nil {
		p.join(err)
		return nil, p.err()
	}
	rr := &rowReader{o: o, plan: &plan{}, header: s.header, decimal: decimal, separator: s.separator, problems: p}
	out := make([]Pigment, 0, len(s.records))
	first := map[string]int{}
	for _, rec := range s.records {
		if short := len(s.header) - len(rec.cells); short > 0 { // empty cells are allowed, so are missing ones
			rec.cells = append(rec.cells, make([]string, short)...)
		}
		rr.line, rr.cells, rr.name = rec.line, rec.cells, ""
		if at, ok := where[codeField]; ok && at < len(rec.cells) {
			rr.name = rec.cells[at]
		}
		if len(rr.cells) != len(rr.header) && !rr.fit() {
			continue
		}
		g := rr.pigment(where)
		key := strings.ToUpper(g.Code)
		if line, seen := first[key]; seen && key != "" {
			p.add(rec.line, g.Code, "", fmt.Sprintf("the code already stands in row %d", line), "give each pigment its own code")
		} else if !seen {
			first[key] = rec.line
		}
		out = append(out, g)
	}
	if err := p.err(); err != nil {
		return nil, err
	}
	return out, nil
}

func pigmentFieldOf(h string, o *Options) pigmentField {
	if to, ok := o.Map[h]; ok {
		if to == "ignore" || to == "-" {
			return ignoredField
		}
		h = to
	}
	return pigmentWords[normalHeader(h)]
}

func pigmentPlan(s *sheet, o *Options, p *problems) ([]pigmentField, map[pigmentField]int) {
	fields := make([]pigmentField, len(s.header))
	where := map[pigmentField]int{}
	var strange []string
	for i, h := range s.header {
		f := pigmentFieldOf(h, o)
		fields[i] = f
		if f == ignoredField {
			continue
		}
		if f == 0 {
			if h == "" && !s.filled(i) {
				continue
			}
			strange = append(strange, h)
			continue
		}
		if at, dup := where[f]; dup {
			p.add(s.headerLine, "", h, "means the same as column "+oneLine(s.header[at], 40), "keep one")
			continue
		}
		where[f] = i
	}
	const known = "use code, ci_name, name, supplier, lot, density, max_phr, price_per_kg, stock_g, heat_class, light_class, strength_percent, note"
	if len(strange) > fewUnknown {
		p.unknown(s.headerLine, strange, "is this another kind of file? of a pigment list "+known)
	} else {
		for _, h := range strange {
			p.add(s.headerLine, "", h, "is unknown", known+", or "+ignoring(h))
		}
	}
	if _, ok := where[codeField]; !ok {
		p.add(s.headerLine, "", "", "no column code", "give every pigment a short code of its own")
	}
	return fields, where
}

// pigment reads the record at hand.
func (r *rowReader) pigment(where map[pigmentField]int) Pigment {
	text := func(f pigmentField) string {
		if at, ok := where[f]; ok {
			return tidy(r.cells[at], 1000)
		}
		return ""
	}
	optional := func(f pigmentField, above, upTo float64, what string) *float64 {
		at, ok := where[f]
		if !ok || r.cells[at] == "" {
			return nil
		}
		v, ok := r.value(at, "")
		if !ok {
			return nil
		}
		if v < above || v > upTo {
			r.bad(at, what+" "+plain(v)+" is impossible", fmt.Sprintf("write a value from %s to %s, or leave it empty", plain(above), plain(upTo)))
			return nil
		}
		return &v
	}
	g := Pigment{Line: r.line, Code: text(codeField), CIName: text(ciNameField), Name: text(pigmentNameField), Supplier: text(supplierField), Lot: text(lotField),
		HeatClass: text(heatField), LightClass: text(lightField), Note: text(pigmentNoteField)}
	// Densities of pigment pastes run from about 0.9 to 3 g/ml; dry lead and
	// bismuth pigments reach 9. From memory.
	g.DensityGML = optional(densityField, 0.3, 12, "density")
	g.MaxPHR = optional(maxPHRField, 0, 100, "loading")
	g.PricePerKg = optional(priceField, 0, 1e6, "price")
	g.StockG = optional(stockField, 0, 1e8, "stock")
	g.StrengthPercent = optional(strengthField, 0.001, 100, "strength")
	if at, ok := where[codeField]; ok {
		switch {
		case g.Code == "":
			r.bad(at, "is empty", "give the pigment a short code")
		case !pigmentCode.MatchString(g.Code):
			r.bad(at, quote(g.Code)+" is no code", "use a letter, then up to 15 letters, digits, or . _ / -")
		case reserved(g.Code):
			r.bad(at, quote(g.Code)+" is the name of another column", "choose another code")
		}
	}
	return g
}

// reserved tells whether a code would be mistaken for a column of readings.
func reserved(code string) bool {
	c := understand(code, &Options{})
	return c.role != unknown && c.role != ignored
}

package readings_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"masstone/color"
	"masstone/color/readings"
)

// refusal is a file that is refused: what a person reads, and the remedy that
// line names, applied. Files and readings are invented.
type refusal struct {
	as   string           // chips, poured, mixtures, samples (if empty), pieces, pigments, any, joined, typed
	in   string           // the file, or @ and its name in testdata/stated
	o    readings.Options // what was said of it
	line string           // the whole message

	// The remedy, one of these.
	mend  []string                // texts of the file, each with what it is mended to
	other string                  // another file, as exported anew
	say   func(*readings.Options) // what to say of the same file
	still string                  // the mended file is refused for its next fault

	read string // name and first value that are then read
}

// sphereMode is an ISO 17972-1 file whose sphere states its specular mode in an
// element. The standard leaves the name open. From memory.
func sphereMode(element, text string) string {
	return `<CxF><Resources><ObjectCollection>
<Object ObjectType="Sample" Name="red" Id="o1"><ColorValues><ColorCIELab ColorSpecification="T1"><L>50</L><A>40</A><B>20</B></ColorCIELab></ColorValues></Object></ObjectCollection><ColorSpecificationCollection>
<ColorSpecification Id="T1"><TristimulusSpec><Illuminant>D65</Illuminant><Observer>10_Degree</Observer></TristimulusSpec>
<MeasurementSpec><GeometryChoice><Sphere><` + element + ">" + text + "</" + element + `></Sphere></GeometryChoice></MeasurementSpec></ColorSpecification></ColorSpecificationCollection></Resources></CxF>`
}

// got reads a file as one kind and says of the first row its name and its L*, or
// the reflectance of its first band.
func (c refusal) got(data string, o readings.Options) (string, error) {
	o.File = "f"
	r := strings.NewReader(data)
	var t readings.Table
	var err error
	switch c.as {
	case "chips":
		o.KnownPigments = shop()
		t, err = readings.Chips(r, o)
	case "mixtures":
		o.KnownPigments = shop()
		t, err = readings.Mixtures(r, o)
	case "any":
		var f readings.File
		f, err = readings.Read(r, o)
		t = f.Table
	case "pigments":
		list, err := readings.Pigments(r, o)
		if err != nil {
			return "", err
		}
		return list[0].Code, nil
	case "typed":
		lab, err := readings.Typed(data, color.D65Ten())
		if err != nil {
			return "", err
		}
		return fmt.Sprint("typed ", lab.L), nil
	case "joined":
		o.KnownPigments = shop()
		recipes, e := readings.Mixtures(strings.NewReader("mix,WH,RD\nred,1,2\n"), o)
		if e != nil {
			return "", e
		}
		if t, err = readings.Samples(r, o); err == nil {
			t, err = readings.Join("f", recipes, t)
		}
	case "poured":
		o.KnownPigments, o.Repeats = shop(), true
		if t, err = readings.Chips(r, o); err == nil {
			_, err = readings.Pieces("f", t.Rows)
		}
	case "pieces":
		if t, err = readings.Samples(r, o); err == nil {
			var p []readings.Piece
			if p, err = readings.Pieces("f", t.Rows); err == nil {
				t.Rows = []readings.Row{p[0].Row}
			}
		}
	default:
		t, err = readings.Samples(r, o)
	}
	if err != nil {
		return "", err
	}
	row := t.Rows[0]
	switch {
	case len(row.Labs) > 0:
		return fmt.Sprintf("%s %.4g", row.Name, row.Labs[0].L), nil
	case row.Spectrum != nil:
		return fmt.Sprintf("%s %.4g", row.Name, row.Spectrum.R[0]), nil
	}
	return fmt.Sprintf("%s %.4g", row.Name, row.Loadings["WH"]), nil
}

const (
	labHeader = "name,L_D65,a_D65,b_D65\n"
	redLab    = labHeader + "red,50,40,20\n"
	goodChip  = chipsHeader + "A,white,3,1,0,50,1,1\n"
	isoHead   = "ISO28178\nILLUMINANT D65\nOBSERVER 10\n"
	isoFields = "BEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
	isoRed    = isoHead + isoFields + "BEGIN_DATA\nred 50 40 20\nEND_DATA\n"
	xmlLab    = `<ColorCIELab ColorSpecification="T"><L>50</L><A>1</A><B>2</B></ColorCIELab>`
)

func xmlObject(body string) string {
	return xmlHead + `<Object Name="A"><ColorValues>` + body + `</ColorValues></Object>` + xmlTail
}

func xmlSpectrum(spec, value string, n int) string {
	return `<ReflectanceSpectrum ColorSpecification="` + spec + `">` + strings.TrimSpace(strings.Repeat(value+" ", n)) + `</ReflectanceSpectrum>`
}

// inXML is a colour of three values under D50/2.
func inXML(element, values string) string {
	axes := map[string]string{"ColorCIEXYZ": "XYZ", "ColorCIELCh": "LCH"}[element]
	body := ""
	for i, v := range strings.Fields(values) {
		body += fmt.Sprintf("<%c>%s</%c>", axes[i], v, axes[i])
	}
	return fmt.Sprintf(`<%s ColorSpecification="T">%s</%s>`, element, body, element)
}

func percent(yes bool) func(*readings.Options) {
	return func(o *readings.Options) { o.Percent = &yes }
}

func mapped(header, to string) func(*readings.Options) {
	return func(o *readings.Options) { o.Map = map[string]string{header: to} }
}

func way(m color.Measurement) func(*readings.Options) {
	return func(o *readings.Options) { o.Measurement = m }
}

func angles(a string) func(*readings.Options) { return func(o *readings.Options) { o.Angles = a } }

func light(i color.Illuminant) func(*readings.Options) {
	return func(o *readings.Options) { o.Condition.Illuminant = i }
}

func observer(v color.Observer) func(*readings.Options) {
	return func(o *readings.Options) { o.Observer = v }
}

func leftOut(o *readings.Options) { *o = readings.Options{} }

// refusals is the table of every refusal of the package.
func refusals(t testing.TB) []refusal {
	no, yes := false, true
	bookOf := func(rows [][]any, change func(*excelize.File)) string { return book(t, rows, change).String() }
	redBook := [][]any{{"name", "L_D65", "a_D65", "b_D65"}, {"red", 50, 40, 20}}
	twoSheets := func(f *excelize.File) {
		_, err := f.NewSheet("Other")
		require.NoError(t, err)
		require.NoError(t, f.SetSheetRow("Other", "A1", &[]any{"x"}))
	}
	uncalculated := [][]any{{"name", "L_D65", "a_D65", "b_D65"}, {"red", nil, 40, 20}}
	formula := func(f *excelize.File) { require.NoError(t, f.SetCellFormula("Sheet1", "B2", "AVERAGE(49,51)")) }
	goodODS := string(ods(t, odsHead+odsRow))
	uncalculatedODS := string(ods(t, odsHead+strings.Replace(odsRow, ` office:value-type="float" office:value="50.25"><text:p>50,3</text:p>`, ` table:formula="of:=[.A1]"><text:p/>`, 1)))
	fineXYZ := inXML("ColorCIEXYZ", "40 30 20")
	f12 := strings.Replace(xmlObject(xmlLab), "<Illuminant>D50", "<Illuminant>F12", 1)
	wide := strings.Replace(xmlObject(xmlLab), "<Observer>2_Degree", "<Observer>wide", 1)
	red := func(header, cells string) string { return header + "\nred," + cells + "\n" }
	return []refusal{
		// No file of readings.
		{in: "", line: "f: is empty; it needs a header row and one row per reading", other: redLab, read: "red 50"},
		{in: " \n\n", line: "f: is empty; it needs a header row and one row per reading", other: redLab, read: "red 50"},
		{in: "# nothing\n", line: "f: holds no rows; it needs a header row and one row per reading", other: redLab, read: "red 50"},
		{in: labHeader, line: "f:1: no rows below the header; add one row per reading", other: redLab, read: "red 50"},
		{in: "%PDF-1.4", line: "f: is a PDF; export the readings as CSV", other: redLab, read: "red 50"},
		{in: "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", line: "f: is an old or a password-protected workbook; save it as .xlsx without a password, or as CSV", other: bookOf(redBook, nil), read: "red 50"},
		{in: "name\x00,L", line: "f: is not text; export the readings as CSV, XLSX, ISO 28178 text or CxF3", other: redLab, read: "red 50"},
		{in: "<html><body/></html>", line: `f:1: is XML but not of ISO 17972: it opens with "html"; export CxF3, CSV or ISO 28178 text`, other: isoRed, read: "red 50"},
		{in: redLab + strings.Repeat("#"+strings.Repeat("x", 1<<19)+"\n", 130), line: "f: is larger than 64 MB; split it", other: redLab, read: "red 50"},

		// Layout of a text.
		{in: redLab, o: readings.Options{Separator: '"'}, line: `f: '"' cannot separate cells; use , ; or tab`, say: func(o *readings.Options) { o.Separator = ',' }, read: "red 50"},
		{in: "foo,x;bar,q\nQ,1;white,2\n", line: "f: cells may be separated by semicolon or by comma; settle it with ⟦separator⟧", say: func(o *readings.Options) { o.Separator = ';' }, still: "f:1: column foo,x: is unknown; ⟦map=foo,x=COLUMN⟧ or ⟦map=foo,x=ignore⟧\nf:1: column bar,q: is unknown; ⟦map=bar,q=COLUMN⟧ or ⟦map=bar,q=ignore⟧\nf:1: no column names the sample; add a column sample\nf:1: no column holds a reading; add L_D65,a_D65,b_D65 or R400...R700"},
		{in: "name;L_D65;a_D65;b_D65\nred;50,5;1.5;2\n", line: "f:2: column L_D65: decimal commas here and decimal points elsewhere (1 cells against 1); settle it with ⟦decimal=,⟧ or ⟦decimal=.⟧ and mend the others", say: func(o *readings.Options) { o.Decimal = ',' }, still: `f:2: red: column a_D65: "1.5" is not a number; a decimal point? write a comma, or say ⟦decimal=.⟧`},
		{in: "name;L_D65;a_D65;b_D65\nred;50,5;1.5;2\n", line: "f:2: column L_D65: decimal commas here and decimal points elsewhere (1 cells against 1); settle it with ⟦decimal=,⟧ or ⟦decimal=.⟧ and mend the others", mend: []string{"1.5", "1,5"}, read: "red 50.5"},
		{as: "pigments", in: "code;stock_g\nWH;1,250\nRD;2,500\n", line: "f:2: column stock_g: a comma here may be a decimal mark or a group of thousands; settle it with ⟦decimal=,⟧ or ⟦decimal=.⟧ and write the number without groups", say: func(o *readings.Options) { o.Decimal = ',' }, read: "WH"},
		{in: redLab, o: readings.Options{Decimal: '\''}, line: `f: '\'' is no decimal mark; use ⟦decimal=.⟧ or ⟦decimal=,⟧`, say: func(o *readings.Options) { o.Decimal = '.' }, read: "red 50"},
		{in: redLab, o: readings.Options{HeaderRow: 9}, line: "f:9: is no row of the table; say another ⟦header-row⟧, or leave it out", say: func(o *readings.Options) { o.HeaderRow = 1 }, read: "red 50"},
		{in: labHeader + `"red,50,40,20` + "\n", line: `f:2: extraneous or missing " in quoted-field; close the quotation marks, or write an inch mark as in`, mend: []string{`"red,`, `"red",`}, read: "red 50"},
		{in: "name" + strings.Repeat(",", 1000) + "\nx\n", line: "f:1: has more than 1000 columns; is this the right file?", other: redLab, read: "red 50"},
		{in: redLab + "x" + strings.Repeat(" ", 1<<20) + "\n", line: "f:3: is longer than a megabyte; is this the right file?", other: redLab, read: "red 50"},
		{in: labHeader + strings.Repeat("x", 100<<10+1) + ",50,40,20\n", line: "f:2: a cell is longer than 102400 characters; are its quotation marks closed?", other: redLab, read: "red 50"},
		{in: labHeader + strings.Repeat("red,50,40,20\n", 100_000), line: "f:100001: more than 100000 rows or 5000000 cells; split the file", other: redLab, read: "red 50"},

		// Columns.
		{in: red("name,L_D65,a_D65,b_D65,colour", "50,40,20,x"), line: "f:1: column colour: is unknown; ⟦map=colour=COLUMN⟧ or ⟦map=colour=ignore⟧", say: mapped("colour", "ignore"), read: "red 50"},
		{in: red("name,L_D65,a_D65,b_D65,kk,ll,mm1,nn,oo", "50,40,20,1,2,3,4,5"), line: "f:1: columns kk, ll, mm1, nn and 1 more are unknown; is this another kind of file?", other: redLab, read: "red 50"},
		{as: "chips", in: "chip,backing,thickness_mm,RR,L_D65,a_D65,b_D65\nA,white,3,1,50,1,1\n", line: "f:1: column RR: is unknown; did you mean RD? a pigment must be imported first; else ⟦map=RR=COLUMN⟧ or ⟦map=RR=ignore⟧\nf:1: no column is a known pigment; import the pigments first, then use their codes as headers", say: mapped("RR", "RD"), read: "A 50"},
		{as: "any", in: red("name,L_D65,a_D65,b_D65,QQ", "50,40,20,1"), line: "f:1: column QQ: is unknown; a pigment? say ⟦pigments=QQ⟧; else ⟦map=QQ=COLUMN⟧ or ⟦map=QQ=ignore⟧", say: func(o *readings.Options) { o.KnownPigments = []string{"QQ"} }, read: "red 50"},
		{in: "name,L_D65,a_D65,b_D65,,\nred,50,40,20,1,2\n", line: "f:1: column 5: has no header; name it or delete the column\nf:1: column 6: has no header; name it or delete the column", mend: []string{",,\n", ",note,gloss\n"}, read: "red 50"},
		{in: red("name,L_D65,a_D65,b_D65,L*(D65)", "50,40,20,51"), line: "f:1: column L*(D65): means the same as column L_D65; keep one, or ⟦map=L*(D65)=ignore⟧", say: mapped("L*(D65)", "ignore"), read: "red 50"},
		{in: red("name,L,a,b", "50,40,20"), line: "f:1: column L: does not say its illuminant; add ⟦illuminant=D65⟧ ⟦observer=10⟧, or name the columns L_D65,a_D65,b_D65", say: func(o *readings.Options) { o.Condition = color.D65Ten() }, read: "red 50"},
		{in: red("name,L_D65,a_D65", "50,40"), line: "f:1: column a_D65: has no b* column beside it; a colour needs all of L, a, b; add the missing column", other: redLab, read: "red 50"},
		{in: red("name,a_D65,b_D65", "40,20"), line: "f:1: column b_D65: has no L* column beside it; a colour needs all of L, a, b; add the missing column", other: redLab, read: "red 50"},
		{in: red("name,X_D65,Y_D65,Z_D65", "0.4,0.3,0.2"), line: "f:1: column Y_D65: is nowhere above 1.2; X, Y, Z are read with Y 100 for white; multiply those that run to 1 by 100, or export Lab", mend: []string{"0.4,0.3,0.2", "40,30,20"}, read: "red 61.65"},
		{in: red("name,R400", "0.5"), line: "f:1: column R400: is a single band; a spectrum needs 400 to 700 nm in steps of 1, 5, 10 or 20 nm", other: bandsHeader() + bandsRow("red", "0.05"), read: "red 0.05"},
		{in: red("name,R400,R410,R430", "0.5,0.5,0.5"), line: "f:1: column R430: follows 410 nm, out of step with the 10 nm before; a band is missing or misnamed; bands must be evenly spaced", other: bandsHeader() + bandsRow("red", "0.05"), read: "red 0.05"},
		{in: red("name,R400,R430,R460", "0.5,0.5,0.5"), line: "f:1: column R400: starts bands 30 nm apart; export the spectrum at 1, 5, 10 or 20 nm", other: bandsHeader() + bandsRow("red", "0.05"), read: "red 0.05"},
		{in: red("name,R400,R410,R420", "0.5,0.5,0.5"), line: "f:1: column R400: starts bands of 400 to 420 nm; the spectrum must cover 400 to 700 nm", other: bandsHeader() + bandsRow("red", "0.05"), read: "red 0.05"},
		{in: strings.NewReplacer("R400", "R390", "R420", "R410", "R440", "R430", "R460", "R450", "R480", "R470", "R500", "R490", "R520", "R510", "R540", "R530", "R560", "R550", "R580", "R570", "R600", "R590", "R620", "R610", "R640", "R630", "R660", "R650", "R680", "R670", "R700", "R690,R710").Replace(bandsHeader()) + "red" + strings.Repeat(",0.05", 17) + "\n",
			line: "f:1: column R390: starts bands that pass by 400 nm; export the spectrum on even bands", other: bandsHeader() + bandsRow("red", "0.05"), read: "red 0.05"},
		{in: "L_D65,a_D65,b_D65\n50,40,20\n", line: "f:1: no column names the sample; add a column sample", other: "sample,L_D65,a_D65,b_D65\nred,50,40,20\n", read: "red 50"},
		{in: red("name,note", "dark"), line: "f:1: no column holds a reading; add L_D65,a_D65,b_D65 or R400...R700", other: redLab, read: "red 50"},
		{as: "chips", in: strings.ReplaceAll(strings.Replace(goodChip, "backing,", "", 1), "white,", ""), line: "f:1: no column backing; add it (white, black, ...), or say ⟦over⟧ for the whole file", say: func(o *readings.Options) { o.Backing = "white" }, read: "A 50"},
		{as: "chips", in: strings.ReplaceAll(strings.Replace(goodChip, "thickness_mm,", "", 1), "white,3,", "white,"), line: "f:1: no column thickness_mm; add it, or say ⟦thickness⟧ for the whole file", say: func(o *readings.Options) { o.ThicknessMM = 3 }, read: "A 50"},

		// Cells.
		{in: labHeader + "red,50,40,x\nblue,30,y,z\n", line: `f:2: red: column b_D65: "x" is not a number (and 2 more like it, in row 3); write a plain number`, mend: []string{"x", "20", "y,z", "10,-40"}, read: "red 50"},
		{in: labHeader + "red,50,40,NaN\n", line: `f:2: red: column b_D65: "NaN" is not a number; write a plain number`, mend: []string{"NaN", "20"}, read: "red 50"},
		{in: labHeader + "red,50,40,Inf\n", line: `f:2: red: column b_D65: "Inf" is not a number; write a plain number`, mend: []string{"Inf", "20"}, read: "red 50"},
		{in: labHeader + "red,50,40,0x1p-2\n", line: `f:2: red: column b_D65: "0x1p-2" is not a number; write a plain number`, mend: []string{"0x1p-2", "20"}, read: "red 50"},
		{in: labHeader + "red,50,40,-\n", line: `f:2: red: column b_D65: "-" is not a number; write a plain number`, mend: []string{"40,-", "-,-", "50", "-"}, still: "f:2: red: holds no reading; read the piece, or delete the row"},
		{in: labHeader + "red\x01,50,40,x\n", line: `f:2: red : column b_D65: "x" is not a number; write a plain number`, mend: []string{"x", "20"}, read: "red 50"},
		{in: labHeader + "red,-1,40,20\n", line: "f:2: red: column L_D65: L* -1 is outside 0..100; check the column order and the calibration of the instrument", mend: []string{"-1", "50"}, read: "red 50"},
		{in: labHeader + "red,50,40,1e999\n", line: `f:2: red: column b_D65: "1e999" is too large for a number; write a plain number`, mend: []string{"1e999", "20"}, read: "red 50"},
		{in: labHeader + "red,50,40,\n", line: "f:2: red: column b_D65: is empty; write the reading, or - in all of L, a, b where none was taken", mend: []string{"40,\n", "40,20\n"}, read: "red 50"},
		{in: labHeader + "red,101,40,20\n", line: "f:2: red: column L_D65: L* 101 is outside 0..100; check the column order and the calibration of the instrument", mend: []string{"101", "50"}, read: "red 50"},
		{in: labHeader + "red,50,900,20\n", line: "f:2: red: column a_D65: value 900 is impossible for a surface; check the column and its decimal mark", mend: []string{"900", "9.00"}, read: "red 50"},
		{in: red("name,X_D65,Y_D65,Z_D65", "40,130,20"), line: "f:2: red: column Y_D65: value 130 is outside 0..120; check the column order and the calibration of the instrument", mend: []string{"130", "30"}, read: "red 61.65"},
		{in: labHeader + "red,50,120,-120\n", line: "f:2: red: chroma 169.7 at L* 50.0: no surface passes 117.0 there under D65/10; check columns and illuminant; a piece that fluoresces cannot be used", mend: []string{"120", "12"}, read: "red 50"},
		{in: labHeader + "red,-,-,-\n", line: "f:2: red: holds no reading; read the piece, or delete the row", mend: []string{"-,-,-", "50,40,20"}, read: "red 50"},
		{in: labHeader + "Average,50,40,20\n", line: "f: holds rows of statistics alone; export the readings themselves; a piece of such a name needs another", mend: []string{"Average", "red"}, read: "red 50"},
		{in: labHeader + ",50,40,20\n", line: "f:2: column name: is empty; name the sample", mend: []string{"\n,", "\nred,"}, read: "red 50"},
		{as: "chips", in: strings.Replace(goodChip, "white", "", 1), line: "f:2: A: column backing: is empty; name the backing, such as white or black", mend: []string{"A,,", "A,white,"}, read: "A 50"},
		{as: "chips", in: strings.Replace(goodChip, ",3,", ",0,", 1), line: "f:2: A: column thickness_mm: thickness 0 is not above 0; write the thickness of the piece in mm", mend: []string{",0,1", ",3,1"}, read: "A 50"},
		{as: "chips", in: strings.Replace(goodChip, ",3,", ",3000,", 1), line: "f:2: A: column thickness_mm: thickness 3000 mm is impossible here; write millimetres", mend: []string{"3000", "3"}, read: "A 50"},
		{as: "chips", in: strings.Replace(goodChip, ",3,1,", ",3,-1,", 1), line: "f:2: A: column WH: loading -1 phr is negative; write grams of paste per 100 g of mixed resin", mend: []string{"-1", "1"}, read: "A 50"},
		{as: "chips", in: strings.Replace(goodChip, ",3,1,0,", ",3,60,41,", 1), line: "f:2: A: loadings add up to 101 phr; write grams of paste per 100 g of mixed resin; a sum above 100 is impossible", mend: []string{"60,41", "6,4.1"}, read: "A 50"},
		{as: "mixtures", in: "mix,WH\nm1,\n", line: "f:2: m1: column WH: is empty; write 0 if there is none in it", mend: []string{"m1,", "m1,1"}, read: "m1 1"},
		{as: "chips", in: goodChip + "A,white,3,1,0,60,1,1\n", line: "f:3: A: the name already stands in row 2; give each chip its own name, or say ⟦repeats⟧ if these are readings of one piece", say: func(o *readings.Options) { o.Repeats = true }, read: "A 50"},
		{as: "chips", in: chipsHeader + "A,white,3,1\n", line: "f:2: A: column RD: the row ends here, after 4 of 8 cells; fill in the missing cells", mend: []string{"3,1\n", "3,1,0,50,1,1\n"}, read: "A 50"},
		{as: "chips", in: chipsHeader + "A,white,3,0,1,0,5,50,1,2\n", line: "f:2: A: 10 cells where the header has 8; decimal commas between comma separators? export with semicolons or with decimal points", mend: []string{"3,0,1,0,5,", "3.0,1,0.5,"}, read: "A 50"},
		{as: "chips", in: strings.NewReplacer("b_D65", "b_D65,chip_grams", "50,1,1", "50,1,1,0").Replace(goodChip), line: "f:2: A: column chip_grams: 0 g is impossible; write grams above 0", mend: []string{"1,1,0\n", "1,1,50\n"}, read: "A 50"},
		{in: bandsHeader() + bandsRow("red", "-0.05"), line: "f:2: red: column R400: reflectance -0.05 at 400 nm is negative (and 15 more like it in the row); calibrate the instrument on black and read again", mend: []string{"-0.05", "0.05"}, read: "red 0.05"},
		{in: bandsHeader() + bandsRow("red", "62"), o: readings.Options{Percent: &no}, line: "f:2: red: column R400: reflectance 62 at 400 nm is above 1.2; percent file? say ⟦percent⟧", say: percent(true), read: "red 0.62"},
		{in: strings.Replace(bandsHeader()+bandsRow("red", "0.05"), "0.05", "62", 1), line: "f:2: red: column R400: reflectance 62 at 400 nm is above 1.2; percent file? say ⟦percent⟧", mend: []string{"62,", "0.062,"}, read: "red 0.062"},
		{in: xmlObject(xmlSpectrum("I", "62", 31)), line: "f:1: A: column R400: reflectance 62 at 400 nm is above 1.2; the file says fractions: correct that, or its values", mend: []string{"62", "0.62"}, read: "A 0.62"},
		{in: bandsHeader() + bandsRow("grey", "0.5"), line: "f:1: the spectra may be those of light pieces in fractions or of blacks in percent; settle it with ⟦percent=false⟧ or ⟦percent⟧", say: percent(false), read: "grey 0.5"},
		{in: bandsHeader() + bandsRow("grey", "0.5"), line: "f:1: the spectra may be those of light pieces in fractions or of blacks in percent; settle it with ⟦percent=false⟧ or ⟦percent⟧", say: percent(true), read: "grey 0.005"},
		{in: bandsHeader() + bandsRow("a", "62") + bandsRow("b", "0.5"), line: "f:2: the spectra of 1 rows look like percent, those of 1 like fractions; settle it with ⟦percent⟧ or ⟦percent=false⟧", say: percent(true), read: "a 0.62"},

		// Lab against the spectrum.
		{in: strings.TrimSpace(bandsHeader()) + ",L_D65,a_D65,b_D65\n" + strings.TrimSpace(bandsRow("grey", "0.05")) + ",60,0,0\n", line: "f:2: grey: Lab under D65/10 and spectrum differ by CIEDE2000 30.73; they are of two pieces or two specular modes; delete the wrong one", mend: []string{",60,0,0", ",-,-,-"}, read: "grey 0.05"},

		// What a file states.
		{in: "@f12.csv", line: `f:1: Illuminant "F12" names no one illuminant known here; say ⟦illuminant⟧ if it is one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5, else export spectra`, say: light(color.D65), read: "red 50.1"},
		{in: "@f12.txt", line: `f:3: ILLUMINANT "F12" names no one illuminant known here; say ⟦illuminant⟧ if it is one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5, else export spectra`, say: light(color.D65), read: "red 50"},
		{in: strings.Replace(isoRed, "ILLUMINANT D65", `WEIGHTING_FUNCTION "ILLUMINANT, F12"`, 1), line: `f:2: WEIGHTING_FUNCTION "ILLUMINANT, F12" names no illuminant known here; say ⟦illuminant⟧ if it is one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5, else export spectra`, say: light(color.D65), read: "red 50"},
		{in: strings.Replace(isoRed, "OBSERVER 10", `WEIGHTING_FUNCTION "OBSERVER, wide"`, 1), line: `f:3: WEIGHTING_FUNCTION "OBSERVER, wide" names no observer known here; say ⟦observer=2⟧ or ⟦observer=10⟧`, say: observer(2), read: "red 50"},
		{in: sphereMode("SpecularMode", "half"), line: `f:3: specular mode "half" is none known here; say ⟦specular=included⟧ or ⟦specular=excluded⟧`, say: way(color.Measurement{Specular: color.SpecularExcluded}), read: "red 50"},
		{in: "@observer-strange.txt", line: `f:4: OBSERVER "wide field" names no one observer known here; say ⟦observer=2⟧ or ⟦observer=10⟧`, say: observer(10), read: "red 50"},
		{in: "@mode-strange.csv", line: `f:2: Mode "SPINX" is no specular mode known here; say ⟦specular=included⟧ or ⟦specular=excluded⟧`, say: way(included), read: "red 50.1"},
		{in: "@geometry-strange.txt", line: `f:3: MEASUREMENT_GEOMETRY "45/15" is no way of measuring known here; say ⟦geometry=45/15⟧ to take it as 45/0, else export d/8 or 45/0`, say: angles("45/15"), read: "red 50"},
		{in: strings.Replace(isoRed, "OBSERVER 10", "MEASUREMENT_GEOMETRY \"ring\"\nOBSERVER 10", 1), line: `f:3: MEASUREMENT_GEOMETRY "ring" is no way of measuring known here; say ⟦geometry=d/8⟧ or ⟦geometry=45/0⟧`, say: way(directional), read: "red 50"},
		{in: "@angles-strange.cxf", line: `f:3: geometry "45/15" is no way of measuring known here; say ⟦geometry=45/15⟧ to take it as 45/0, else export d/8 or 45/0`, say: angles("45/15"), read: "red 50"},
		{in: "@angles-strange.cxf", o: readings.Options{Angles: "45/25"}, line: "f: states no geometry 45/25, but ⟦geometry⟧ says it; leave the option out, or say one that the file states", say: angles("45/15"), read: "red 50"},
		{in: strings.NewReplacer("L_D65", "L_D65,geometry", "50,", "50,45/15,").Replace("name,L_D65,a_D65,b_D65\nred,50,40,20\n"), line: `f:2: red: column geometry: "45/15" is no way of measuring known here; say ⟦geometry=45/15⟧ to take it as 45/0, else export d/8 or 45/0`, say: angles("45/15"), read: "red 50"},
		{in: strings.NewReplacer("L_D65", "L_D65,specular", "50,", "50,maybe,").Replace("name,L_D65,a_D65,b_D65\nred,50,40,20\n"), line: `f:2: red: column specular: unknown way of measuring "maybe"; use d/8 or 45/0, included or excluded; correct it, or ⟦map=specular=ignore⟧ and say ⟦specular⟧`, say: func(o *readings.Options) {
			o.Measurement, o.Map = included, map[string]string{"specular": "ignore"}
		}, read: "red 50"},
		{in: strings.NewReplacer("L_D65", "L_D65,geometry,specular", "50,", "50,45/0,included,").Replace("name,L_D65,a_D65,b_D65\nred,50,40,20\n"), line: `f:2: red: column specular: says "included", but geometry 45/0 cannot include the specular reflection; correct it, or ⟦map=specular=ignore⟧`, mend: []string{"included", "excluded"}, read: "red 50"},
		{in: "Illuminant;D65\nLight source;A\nname;L*;a*;b*\nred;50;40;20\n", line: `f:2: Light source "A" contradicts D65 stated before; say ⟦illuminant⟧ if it is one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5, else export spectra`, say: light(color.D65), read: "red 50"},
		{in: "Illuminant;D65\nObserver;2\nStandard observer;10\nname;L*;a*;b*\nred;50;40;20\n", line: `f:3: Standard observer "10" contradicts 2 stated before; say ⟦observer=2⟧ or ⟦observer=10⟧`, say: observer(2), read: "red 50"},
		{in: "Geometry;d/8\nMeasurement geometry;45/0\nname;L_D65;a_D65;b_D65\nred;50;40;20\n", line: `f:2: Measurement geometry "45/0" contradicts d/8 stated before; say ⟦geometry=d/8⟧ or ⟦geometry=45/0⟧`, say: way(color.Measurement{Geometry: color.Sphere}), read: "red 50"},
		{in: "Specular;included\nMode;SCE\nname;L_D65;a_D65;b_D65\nred;50;40;20\n", line: `f:2: Mode "SCE" contradicts specular included stated before; say ⟦specular=included⟧ or ⟦specular=excluded⟧`, say: way(included), read: "red 50"},
		{in: strings.Replace(isoHead, "OBSERVER", "SPECTRAL_NORM 50\nOBSERVER", 1) + "BEGIN_DATA_FORMAT\nSAMPLE_NAME" + strings.ReplaceAll(strings.TrimPrefix(strings.TrimSpace(bandsHeader()), "name"), ",R", " SPECTRAL_NM") + "\nEND_DATA_FORMAT\nBEGIN_DATA\nred" + strings.Repeat(" 0.05", 16) + "\nEND_DATA\n",
			line: `f:3: SPECTRAL_NORM "50" is neither 1 nor 100; say ⟦percent⟧ or ⟦percent=false⟧`, say: percent(false), read: "red 0.05"},
		{in: "@above.csv", o: readings.Options{Measurement: included}, line: "f: says specular excluded, but ⟦specular⟧ says included; leave the option out, or correct the file", say: leftOut, read: "red 50.1"},
		{in: "@above.csv", o: readings.Options{Observer: color.TenDegree}, line: "f: says observer 2, but ⟦observer⟧ says 10; leave the option out, or correct the file", say: leftOut, read: "red 50.1"},
		{in: "@above.csv", o: readings.Options{Condition: color.Condition{Illuminant: color.A}}, line: "f: says illuminant D50, but ⟦illuminant⟧ says A; leave the option out, or correct the file", say: leftOut, read: "red 50.1"},
		{in: "@passing.csv", o: readings.Options{Measurement: color.Measurement{Geometry: color.Directional}}, line: "f: says geometry d/8, but ⟦geometry⟧ says 45/0; leave the option out, or correct the file", say: leftOut, read: "red 50.1"},
		{in: "@norm.txt", o: readings.Options{Percent: &no}, line: "f: says reflectance is percent, but ⟦percent⟧ says false; leave the option out, or correct the file", say: percent(true), read: "black 0.0045"},
		{in: xmlObject(xmlSpectrum("I", "0.25", 31)), o: readings.Options{Percent: &yes}, line: "f: says reflectance is fractions, but ⟦percent⟧ says true; leave the option out, or correct the file", say: leftOut, read: "A 0.25"},
		{in: "@contradict-above.csv", line: "f:2: column L*(D65/10): says D65, but the file says D50; leave one out, or correct it", mend: []string{"Illuminant;D50\n", ""}, read: "red 50"},
		{in: "Observer;2\nName;L*(D65/10);a*(D65/10);b*(D65/10)\nred;50;40;20\n", line: "f:2: column L*(D65/10): says observer 10, but the file says 2; leave one out, or correct it", mend: []string{"Observer;2\n", ""}, read: "red 50"},
		{in: "@cell.csv", line: `f:2: red: column illuminant: says "A", but column L*(D65/10) says D65; correct one of them, or ⟦map=illuminant=ignore⟧`, say: mapped("illuminant", "ignore"), read: "red 50"},
		{in: "name,observer,L*(D65/10),a*(D65/10),b*(D65/10)\nred,2,50,40,20\n", line: `f:2: red: column observer: says "2", but column L*(D65/10) says 10; correct one of them, or ⟦map=observer=ignore⟧`, say: mapped("observer", "ignore"), read: "red 50"},
		{in: "@cell-mode.csv", o: readings.Options{Measurement: included}, line: "f:2: red: column specular: says excluded, but ⟦specular⟧ says included; leave one out, or correct it", say: leftOut, read: "red 50"},
		{in: "@geometry-45.csv", o: readings.Options{Measurement: color.Measurement{Geometry: color.Sphere}}, line: "f:2: red: column geometry: says 45/0, but ⟦geometry⟧ says d/8; leave one out, or correct it", say: leftOut, read: "red 50"},
		{in: red("name,illuminant,L,a,b", "A,50,40,20"), o: readings.Options{Condition: color.Condition{Illuminant: color.D65}}, line: `f:2: red: column illuminant: says "A", but ⟦illuminant⟧ says D65; leave one out, or correct it`, say: leftOut, read: "red 50"},
		{in: red("name,illuminant,observer,L,a,b", "A,2,50,40,20"), o: readings.Options{Observer: color.TenDegree}, line: `f:2: red: column observer: says "2", but ⟦observer⟧ says 10; leave one out, or correct it`, say: leftOut, read: "red 50"},
		{in: red("name,illuminant,L,a,b", "A/2,50,40,20"), o: readings.Options{Observer: color.TenDegree}, line: `f:2: red: column illuminant: says "A/2", but observer 10 is said elsewhere; leave one out, or correct it`, say: leftOut, read: "red 50"},
		{in: red("name,illuminant,L,a,b", "Q,50,40,20"), line: `f:2: red: column illuminant: unknown illuminant "Q"; use one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5; correct it, or ⟦map=illuminant=ignore⟧ and say ⟦illuminant⟧`, say: func(o *readings.Options) {
			o.Condition, o.Map = color.D65Ten(), map[string]string{"illuminant": "ignore"}
		}, read: "red 50"},
		{in: red("name,observer,L_D65,a_D65,b_D65", "9,50,40,20"), line: `f:2: red: column observer: unknown observer "9"; use 2 or 10 (degrees); correct it, or ⟦map=observer=ignore⟧ and say ⟦observer⟧`, say: mapped("observer", "ignore"), read: "red 50"},
		{in: "@spin.txt", o: readings.Options{Mode: "M0"}, line: "f:15: red: says measurement condition M1, but ⟦m-condition⟧ says M0; leave the option out, or correct the file", say: leftOut, read: "red 50"},

		// Several ways of reading.
		{in: "@both-modes.csv", line: "f:1: readings with and without the specular reflection stand side by side; choose one by ⟦specular=included⟧ or ⟦specular=excluded⟧", say: way(excluded), read: "red 46"},
		{in: "@m-headers.csv", line: "f:1: readings of several ways stand side by side, measurement condition M0 and M1; choose one by ⟦m-condition=M0⟧ or ⟦m-condition=M1⟧", say: func(o *readings.Options) { o.Mode = "M1" }, read: "paper 95"},
		{in: "@modes.csv", line: "f:3: red: was read in several ways, specular mode included and excluded; choose one by ⟦specular=included⟧ or ⟦specular=excluded⟧", say: way(excluded), read: "red 46"},
		{in: "@m-conditions.csv", line: "f:3: paper: was read in several ways, measurement condition M0 and M1; choose one by ⟦m-condition=M0⟧ or ⟦m-condition=M1⟧", say: func(o *readings.Options) { o.Mode = "M0" }, read: "paper 95"},
		{in: "@two-angles.cxf", line: "f:3: red: was read in several ways, geometry 45/0 and 45/15; choose one by ⟦geometry=45/0⟧ or ⟦geometry=45/15⟧", say: angles("45/15"), read: "red 70"},
		{in: "@two-angles.cxf", line: "f:3: red: was read in several ways, geometry 45/0 and 45/15; choose one by ⟦geometry=45/0⟧ or ⟦geometry=45/15⟧", say: way(directional), read: "red 50"},
		{in: strings.NewReplacer("<IlluminationAngle>45</IlluminationAngle><MeasurementAngle>0</MeasurementAngle>", "<IlluminationAngle>8</IlluminationAngle><MeasurementAngle>d</MeasurementAngle>").Replace(statedFile(t, "two-angles.cxf")), line: "f:3: red: was read in several ways, geometry d/8 and 45/15; choose one by ⟦geometry=d/8⟧ or ⟦geometry=45/15⟧", say: way(color.Measurement{Geometry: color.Sphere}), read: "red 50"},
		{in: "name,geometry,L_D65,a_D65,b_D65\nred,as15,50,40,20\nred,as45,52,40,20\n", line: "f:3: red: was read in several ways, geometry as15 and as45; export readings of d/8 or 45/0", other: redLab, read: "red 50"},
		{in: "Standard,Trial,L_D65,a_D65,b_D65\nred,red,50,40,20\nred,red,52,40,20\n", line: "f:3: red: has the name of its standard, as row 2 has, so that either may be the standard; leave Trial empty where the standard was read, or give the trials other names", mend: []string{"red,red,50", "red,,50"}, read: "red (standard) 50"},

		// Readings of one piece.
		{as: "pieces", in: red("name,backing,L_D65,a_D65,b_D65", "white,50,40,20\nred,black,50.5,40,20"), line: "f:3: red: another backing than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{"red,black", "red 2,black"}, read: "red 50"},
		{as: "poured", in: goodChip + "A,white,3,2,0,50,1,1\n", line: "f:3: A: other loadings than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{"A,white,3,2", "A2,white,3,2"}, read: "A 50"},
		{as: "pieces", in: red("name,thickness_mm,L_D65,a_D65,b_D65", "3,50,40,20\nred,4,50.5,40,20"), line: "f:3: red: another thickness than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{",4,", ",3,"}, read: "red 50.25"},
		{as: "pieces", in: red("name,filter,L_D65,a_D65,b_D65", "none,50,40,20\nred,UV cut,50.5,40,20"), line: "f:3: red: another filter than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{"UV cut", "none"}, read: "red 50.25"},
		{as: "pieces", in: red("name,aperture,L_D65,a_D65,b_D65", "4 mm,50,40,20\nred,8 mm,50.5,40,20"), line: "f:3: red: another aperture than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{"8 mm", "4 mm"}, read: "red 50.25"},
		{as: "pieces", in: red("name,m_condition,L_D65,a_D65,b_D65", "M1,50,40,20\nred,-,50.5,40,20"), line: "f:3: red: another measurement condition than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{",-,", ",M1,"}, read: "red 50.25"},
		{as: "pieces", in: red("name,specular,L_D65,a_D65,b_D65", "SCI,50,40,20\nred,-,50.5,40,20"), line: "f:3: red: another geometry or specular mode than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{",-,", ",SCI,"}, read: "red 50.25"},
		{as: "pieces", in: red("name,stated_geometry,L_D65,a_D65,b_D65", "45/15,50,40,20\nred,45/25,50.5,40,20"), line: "f:3: red: another geometry than in row 2; readings of one piece must agree in it; give another piece another name", mend: []string{"45/25", "45/15"}, read: "red 50.25"},
		{as: "joined", in: labHeader + "rad,50,40,20\n", line: "f:2: rad: was read, but what is in it is not said; did you mean red? add it to the loadings, or name it alike", mend: []string{"rad", "red"}, read: "red 50"},
		{as: "typed", in: "61.2", line: `"61.2" holds one value, not 3 numbers; type L, a and b as 61.2 38.9 21.4`, other: "61.2 38.9 21.4", read: "typed 61.2"},
		{as: "typed", in: "61.2 38.9", line: `"61.2 38.9" holds 2 numbers, not 3; type L, a and b as 61.2 38.9 21.4`, other: "61.2 38.9 21.4", read: "typed 61.2"},
		{as: "typed", in: "61.2 x 3", line: `"61.2 x 3" is no reading: "x" is not a number; type L, a and b as 61.2 38.9 21.4`, other: "61.2 38.9 21.4", read: "typed 61.2"},
		{as: "typed", in: "161 3 3", line: `"161 3 3": L* a* b* of 161, 3, 3 is impossible; L* lies in 0..100; read the piece again`, other: "61.2 38.9 21.4", read: "typed 61.2"},

		// Pigment lists.
		{as: "pigments", in: "name\nx\n", line: "f:1: no column code; give every pigment a short code of its own", other: "code,name\nWH,x\n", read: "WH"},
		{as: "pigments", in: "code,name\n,x\n", line: "f:2: column code: is empty; give the pigment a short code", mend: []string{"\n,x", "\nWH,x"}, read: "WH"},
		{as: "pigments", in: "code,name\n1W,x\n", line: `f:2: 1W: column code: "1W" is no code; use a letter, then up to 15 letters, digits, or . _ / -`, mend: []string{"1W", "W1"}, read: "W1"},
		{as: "pigments", in: "code,name\nR400,x\n", line: `f:2: R400: column code: "R400" is the name of another column; choose another code`, mend: []string{"R400", "RD4"}, read: "RD4"},
		{as: "pigments", in: "code,name\nWH,x\nwh,y\n", line: "f:3: wh: the code already stands in row 2; give each pigment its own code", mend: []string{"wh", "WW"}, read: "WH"},
		{as: "pigments", in: "code,name\nL,x\n", line: `f:2: L: column code: "L" is the name of another column; choose another code`, mend: []string{"L,", "LB,"}, read: "LB"},
		{as: "pigments", in: "code,name\nmix,x\n", line: `f:2: mix: column code: "mix" is the name of another column; choose another code`, mend: []string{"mix", "MX"}, read: "MX"},
		{as: "pigments", in: "code,name\nW H,x\n", line: `f:2: W H: column code: "W H" is no code; use a letter, then up to 15 letters, digits, or . _ / -`, mend: []string{"W H", "WH"}, read: "WH"},
		{as: "pigments", in: "code,density\nWH,heavy\n", line: `f:2: WH: column density: "heavy" is not a number; write a plain number`, mend: []string{"heavy", "4"}, read: "WH"},
		{as: "pigments", in: "code,max_phr\nWH,101\n", line: "f:2: WH: column max_phr: loading 101 is impossible; write a value from 0 to 100, or leave it empty", mend: []string{"101", "10"}, read: "WH"},
		{as: "pigments", in: "code,strength\nWH,0\n", line: "f:2: WH: column strength: strength 0 is impossible; write a value from 0.001 to 100, or leave it empty", mend: []string{",0", ",50"}, read: "WH"},
		{as: "pigments", in: "code,density\nWH,-1\n", line: "f:2: WH: column density: density -1 is impossible; write a value from 0.3 to 12, or leave it empty", mend: []string{"-1", "1.1"}, read: "WH"},
		{as: "pigments", in: "code,name,name\nWH,a,b\n", line: "f:1: column name: means the same as column name; keep one", mend: []string{",name,name", ",name,note"}, read: "WH"},
		{as: "pigments", in: "code,hue\nWH,0\n", line: "f:1: column hue: is unknown; use code, ci_name, name, supplier, lot, density, max_phr, price_per_kg, stock_g, heat_class, light_class, strength_percent, note, or ⟦map=hue=ignore⟧", say: mapped("hue", "ignore"), read: "WH"},

		// ISO 28178.
		{in: strings.Replace(isoRed, "BEGIN_DATA\n", "NUMBER_OF_SETS 3\nBEGIN_DATA\n", 1), line: "f: announces 3 sets and holds 1; was it cut off? export it again, or correct NUMBER_OF_SETS", mend: []string{"SETS 3", "SETS 1"}, read: "red 50"},
		{in: strings.TrimSuffix(isoRed, "END_DATA\n"), line: "f:8: the file ends within its data; END_DATA is missing: was the file cut off?", other: isoRed, read: "red 50"},
		{in: strings.Replace(isoRed, "END_DATA\n", "blue 30 10\nEND_DATA\n", 1), line: "f:9: blue: column LAB_B: the row ends here, after 3 of 4 cells; fill in the missing cells", mend: []string{"30 10", "30 10 -40"}, read: "red 50"},
		{in: isoHead + isoFields, line: "f:6: has no BEGIN_DATA; is the file complete?", other: isoRed, read: "red 50"},
		{in: strings.Replace(isoRed, "red 50", "\"red 50", 1), line: "f:8: a quotation mark is not closed; close it; write a quotation mark within text twice", mend: []string{`"red`, `"red"`}, read: "red 50"},
		{in: strings.Replace(isoRed, "SAMPLE_NAME LAB_L LAB_A LAB_B\n", "", 1), line: "f:4: names no fields; is the file complete?", other: isoRed, read: "red 50"},
		{in: strings.Replace(isoRed, "red 50 40 20\n", "", 1), line: "f: holds no data sets; is this the right file?", other: isoRed, read: "red 50"},
		{in: strings.Replace(isoRed, "red 50", strings.Repeat("x", 1<<20+1), 1), line: "f:8: line is longer than a megabyte; is this the right file?", other: isoRed, read: "red 50"},
		{in: strings.Replace(isoRed, "LAB_B", strings.Repeat("F ", 1000), 1), line: "f:5: has more than 1000 fields; is this the right file?", other: isoRed, read: "red 50"},
		{in: strings.Replace(isoRed, "red 50 40 20\n", strings.Repeat("red 50 40 20\n", 100_001), 1), line: "f:100008: more than 100000 sets or 5000000 values; split the file", other: isoRed, read: "red 50"},
		{in: isoHead + "BEGIN_DATA_FORMAT\nSAMPLE_NAME SPECTRAL_NM SPECTRAL_DEC SPECTRAL_NM SPECTRAL_DEC\nEND_DATA_FORMAT\nBEGIN_DATA\nred 400 0.5 410 0.5\nblue 400 0.5 420 0.5\nEND_DATA\n", line: `f:9: column SPECTRAL_NM: wavelength "420" where the first set has "410"; all sets must be on one set of bands`, other: isoRed, read: "red 50"},

		// ISO 17972.
		{in: strings.Replace(xmlObject(xmlLab), "</CxF>", "", 1), line: "f:5: is no readable XML: syntax error on line 5: unexpected EOF; export it again", other: xmlObject(xmlLab), read: "A 50"},
		{in: "<!DOCTYPE CxF>" + xmlObject(xmlLab), line: "f:1: declares a document type; delete the <!DOCTYPE ...> part; readings need none", mend: []string{"<!DOCTYPE CxF>", ""}, read: "A 50"},
		{in: strings.Repeat("<CxF>", 100), line: "f:1: is nested deeper than 64; is this the right file?", other: xmlObject(xmlLab), read: "A 50"},
		{in: xmlObject("<Note>" + strings.Repeat("<!-- -->x", 1<<20+1) + "</Note>"), line: "f:1: holds a text longer than a megabyte; is this the right file?", other: xmlObject(xmlLab), read: "A 50"},
		{in: xmlObject("<Note>" + strings.Repeat("x", 3<<20) + "</Note>"), line: "f:1: is no readable XML: one tag or text is longer than a megabyte; export it again", other: xmlObject(xmlLab), read: "A 50"},
		{in: `<?xml version="1.0" encoding="KOI8-R"?>` + xmlObject(xmlLab), line: `f:1: is no readable XML: xml: opening charset "KOI8-R": encoding "KOI8-R" is not read; export it again`, mend: []string{"KOI8-R", "UTF-8"}, read: "A 50"},
		{in: strings.Replace(xmlObject(xmlLab), `<ColorSpecification Id="T">`, numbered(`<ColorSpecification Id="X%d"/>`, 100_001), 1), line: "f:2: has too many colour specifications; is this the right file?", other: xmlObject(xmlLab), read: "A 50"},
		{in: xmlObject(strings.Repeat(xmlLab, 202)), line: `f:1: object "A" holds more than 200 values; is this the right file?`, other: xmlObject(xmlLab), read: "A 50"},
		{in: xmlHead + strings.Repeat(`<Object Name="A"><ColorValues>`+xmlLab+`</ColorValues></Object>`, 100_001) + xmlTail, line: "f:1: more than 100000 objects or 500000 values; split the file", other: xmlObject(xmlLab), read: "A 50"},
		{in: xmlObject(""), line: "f: no object holds Lab or a reflectance spectrum; export readings, not names alone", other: xmlObject(xmlLab), read: "A 50"},
		{in: strings.Replace(xmlObject(xmlLab), `Specification="T"`, `Specification="nowhere"`, 1), line: "f:1: A: column ColorCIELab: does not say its illuminant and observer; add ⟦illuminant=D65⟧ ⟦observer=10⟧, or export them", say: func(o *readings.Options) { o.Condition = color.D65Ten() }, read: "A 50"},
		{in: f12, line: `f:1: A: column ColorCIELab: is under illuminant "F12", which is not known here; say ⟦illuminant⟧ if it is one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5, else export spectra`, say: light(color.FL11), read: "A 50"},
		{in: strings.Replace(f12, xmlLab, xmlLab+xmlSpectrum("I", "0.25", 31), 1), line: `f:1: A: column ColorCIELab: is under illuminant "F12", which is not known here; say ⟦illuminant⟧ if it is one of A, C, D50, D65, FL2, FL7, FL11, LED-B1, LED-B2, LED-B3, LED-B4, LED-B5, or ⟦map=F12=ignore⟧ to leave it out`, say: mapped("F12", "ignore"), read: "A 0.25"},
		{in: wide, line: `f:1: A: column ColorCIELab: is of observer "wide", which is not known here; say ⟦observer=2⟧ or ⟦observer=10⟧`, say: observer(2), read: "A 50"},
		{in: xmlObject(xmlLab + xmlLab), line: "f:1: A: column ColorCIELab: comes twice under D50/2; export one reading per object", mend: []string{xmlLab + xmlLab, xmlLab}, read: "A 50"},
		{in: xmlObject(xmlSpectrum("I", "0.25", 31) + xmlSpectrum("I", "0.26", 31)), line: "f:1: A: column ReflectanceSpectrum: comes twice; export one reading per object", mend: []string{xmlSpectrum("I", "0.26", 31), ""}, read: "A 0.25"},
		{in: xmlObject(xmlSpectrum("I", "0.25", 31) + xmlSpectrum("E", "0.26", 31)), line: "f:1: A: was read in several ways, specular mode included and excluded; choose one by ⟦specular=included⟧ or ⟦specular=excluded⟧", say: way(excluded), read: "A 0.26"},
		{in: xmlObject(xmlSpectrum("I", "0.25", 31) + `</ColorValues></Object><Object Name="B"><ColorValues>` + xmlSpectrum("I", "0.25", 30)), line: "f:1: B: column ReflectanceSpectrum: 30 bands, others have 31; export all spectra on one set of bands", mend: []string{xmlSpectrum("I", "0.25", 30), xmlSpectrum("I", "0.3", 31)}, read: "A 0.25"},
		{in: xmlObject(xmlSpectrum("I", "0.25", 31) + `</ColorValues></Object><Object Name="B"><ColorValues>` + strings.Replace(xmlSpectrum("I", "0.3", 31), ">", ` StartWL="390">`, 1)), line: `f:1: B: column ReflectanceSpectrum: bands from "390" nm by "10", others from "400" nm by "10"; export all spectra on one set of bands`, mend: []string{"390", "400"}, read: "A 0.25"},
		{in: xmlObject(xmlSpectrum("T", "0.25", 31)), line: `f: column ReflectanceSpectrum: bands from "" nm by "10" nm are not understood; export StartWL and Increment with the spectra`, mend: []string{`<ReflectanceSpectrum `, `<ReflectanceSpectrum StartWL="400" `}, read: "A 0.25"},
		{in: xmlObject(strings.Replace(xmlLab, "50", "fifty", 1)), line: `f:1: A: column L_D50_2: "fifty" is not a number; write a plain number`, mend: []string{"fifty", "50"}, read: "A 50"},
		{in: xmlObject(strings.Replace(xmlLab, "<A>1</A>", "", 1)), line: "f:1: A: column a_D50_2: is empty; write the reading, or - in all of L, a, b where none was taken", other: xmlObject(xmlLab), read: "A 50"},
		{in: xmlObject(inXML("ColorCIEXYZ", "0.4 0.3 0.2")), line: "f: column ColorCIEXYZ: is nowhere above 1.2; X, Y, Z are read with Y 100 for white; multiply those that run to 1 by 100, or export Lab", mend: []string{"0.4", "40", "0.3", "30", "0.2", "20"}, read: "A 61.65"},
		{in: xmlObject(inXML("ColorCIEXYZ", "40 130 20")), line: "f:1: A: column ColorCIEXYZ: value 130 is outside 0..120; check the column order and the calibration of the instrument", mend: []string{"130", "30"}, read: "A 61.65"},
		{in: xmlObject(strings.Replace(fineXYZ, "<Y>30</Y>", "", 1)), line: "f:1: A: column ColorCIEXYZ: has no Y; export it again", other: xmlObject(fineXYZ), read: "A 61.65"},
		{in: xmlObject(inXML("ColorCIELCh", "60 x 30")), line: `f:1: A: column ColorCIELCh: "x" is not a number; export it again`, mend: []string{"<C>x", "<C>50"}, read: "A 60"},
		{in: manyLights(), line: "f: holds more conditions and bands than a table of readings can; split the file", other: xmlObject(xmlLab), read: "A 50"},

		// Workbooks.
		{in: "PK\x03\x04 and no more", line: "f: is no readable workbook; export the readings as CSV", other: redLab, read: "red 50"},
		{in: string(zipped(t, map[string]string{"hello.txt": "hello"})), line: "f: is no readable workbook; save it again as .xlsx without a password, or as CSV", other: bookOf(redBook, nil), read: "red 50"},
		{in: string(damaged(t)), line: "f: is a damaged workbook; export the readings as CSV", other: redLab, read: "red 50"},
		{in: bookOf(redBook, twoSheets), line: "f: has 2 worksheets; settle it with ⟦sheet⟧: Sheet1, Other", say: func(o *readings.Options) { o.Sheet = "Sheet1" }, read: "red 50"},
		{in: bookOf(redBook, twoSheets), o: readings.Options{Sheet: "chips"}, line: `f: has no worksheet "chips"; it has Sheet1, Other`, say: func(o *readings.Options) { o.Sheet = "sheet1" }, read: "red 50"},
		{in: bookOf(uncalculated, formula), line: "f:2: cell B2 holds the formula =AVERAGE(49,51), which was never calculated; open the file in a spreadsheet and save it again", other: bookOf(redBook, nil), read: "red 50"},
		{in: uncalculatedODS, line: "f:2: a formula was never calculated; open the file in a spreadsheet and save it again", other: goodODS, read: "red 50.25"},
		{in: string(ods(t, odsHead+strings.Replace(odsRow, "<table:table-row>", `<table:table-row table:number-rows-repeated="1048000">`, 1))), line: "f:2: more than 100000 rows or 5000000 cells; split the file", other: goodODS, read: "red 50.25"},
		{in: string(ods(t, odsHead+strings.Replace(odsRow, `number-columns-repeated="2"`, `number-columns-repeated="1200"`, 1))), line: "f:2: has more than 1000 columns; is this the right worksheet?", other: goodODS, read: "red 50.25"},
		{in: string(ods(t, odsHead+strings.Replace(odsRow, "red", strings.Repeat("x", 100<<10+1), 1))), line: "f:2: a cell is longer than a page; is this the right file?", other: goodODS, read: "red 50.25"},
		{in: string(ods(t, odsHead+"</table:table-row>")), line: "f: is a damaged workbook; open it in a spreadsheet and save it again, or as CSV", other: goodODS, read: "red 50.25"},
		{in: string(ods(t, "<!DOCTYPE x>"+odsHead+odsRow)), line: "f: declares a document type; save it again, or as CSV", other: goodODS, read: "red 50.25"},
		{in: strings.Replace(goodODS, "content.xml", "kontent.xml", 2), line: "f: holds no content; save it again without a password, or as CSV", other: goodODS, read: "red 50.25"},
	}
}

// many writes a pattern with the numbers from 0.
func numbered(pattern string, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, pattern, i)
	}
	return b.String()
}

// manyLights is a file whose bands and objects make too large a table.
func manyLights() string {
	return xmlHead + strings.Repeat(`<Object Name="A"><ColorValues>`+strings.Replace(xmlSpectrum("I", "0.2", 1100), ">", ` StartWL="300" Increment="1">`, 1)+`</ColorValues></Object>`, 2) + xmlTail
}

func statedFile(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile("testdata/stated/" + name)
	require.NoError(t, err)
	return string(data)
}

// TestRefusals: every file of the table is refused with its line, and read once
// the remedy of that line is applied.
func TestRefusals(t *testing.T) {
	for n, c := range refusals(t) {
		name, _, _ := strings.Cut(c.line, ";")
		t.Run(fmt.Sprintf("%d %.60s", n, name), func(t *testing.T) {
			if strings.HasPrefix(c.in, "@") {
				c.in = statedFile(t, c.in[1:])
			}
			read, err := c.got(c.in, c.o)
			require.EqualError(t, err, c.line)
			assert.Empty(t, read)
			if c.as != "typed" {
				var one *readings.RowError
				require.ErrorAs(t, err, &one, "a RowError is within reach")
				assert.Equal(t, "f", one.File)
			}
			data, o := c.in, c.o
			switch {
			case c.say != nil:
				c.say(&o)
			case c.other != "":
				data = c.other
			default:
				for i := 0; i < len(c.mend); i += 2 {
					require.Contains(t, data, c.mend[i])
				}
				data = strings.NewReplacer(c.mend...).Replace(data)
			}
			require.False(t, data == c.in && fmt.Sprintf("%+v", o) == fmt.Sprintf("%+v", c.o), "a remedy is applied")
			read, err = c.got(data, o)
			if c.still != "" {
				require.EqualError(t, err, c.still)
				return
			}
			require.NoError(t, err, "after the remedy")
			assert.Equal(t, c.read, read)
		})
	}
}

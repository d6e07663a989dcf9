package readings_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"masstone/color"
	"masstone/color/readings"
)

// longest keeps fuzzed files small enough to be quick.
const longest = 1 << 20

// checkError wants what a person can read: an *Errors of at most 20 lines and
// one more, none empty.
func checkError(t *testing.T, err error) {
	t.Helper()
	var all *readings.Errors
	if !errors.As(err, &all) {
		t.Fatalf("not an *Errors: %v", err)
	}
	lines := strings.Split(err.Error(), "\n")
	if len(all.Rows) == 0 || len(all.Rows) > 20 || len(lines) > 21 || len(lines) < len(all.Rows) {
		t.Fatalf("%d errors in %d lines", len(all.Rows), len(lines))
	}
	for i, r := range all.Rows {
		if lines[i] != r.Error() || r.Problem == "" {
			t.Fatalf("error %d is not one line: %q", i, r.Error())
		}
	}
}

// checkTable wants every number finite and within what the package promises,
// and the table to survive being written and read again.
func checkTable(t *testing.T, table readings.Table, o readings.Options) {
	t.Helper()
	within := func(v, low, high float64) {
		if !(v >= low && v <= high) {
			t.Fatalf("%g is not within %g and %g", v, low, high)
		}
	}
	for _, r := range table.Rows {
		if r.Name == "" || strings.ContainsAny(r.Name, "\n\r") {
			t.Fatalf("name %q", r.Name)
		}
		within(r.ThicknessMM, 0, 200)
		sum := 0.0
		for _, phr := range r.Loadings {
			within(phr, math.SmallestNonzeroFloat64, 100)
			sum += phr
		}
		within(sum, 0, 100.000001)
		for _, l := range r.Labs {
			within(l.L, 0, 100)
			within(l.A, -200, 200)
			within(l.B, -200, 200)
			if l.Under.Check() != nil {
				t.Fatalf("condition %v", l.Under)
			}
		}
		if r.Spectrum != nil {
			for _, v := range r.Spectrum.R {
				within(v, 0, 1.2)
			}
			if err := r.Spectrum.Check(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if _, err := readings.Pieces("f", table.Rows); err != nil {
		checkError(t, err)
	}
	var b bytes.Buffer
	if err := readings.WriteCSV(&b, table); err != nil {
		t.Fatal(err)
	}
	if _, err := readings.WriteXML(io.Discard, table, readings.ExchangeHeader{}); err != nil {
		t.Fatal(err)
	}
	no := false
	written := b.String()
	again, err := readings.Read(&b, readings.Options{KnownPigments: o.KnownPigments, Separator: ',', Decimal: '.', Percent: &no, Repeats: true})
	if err != nil && !strings.Contains(err.Error(), "no surface passes") { // on the edge, where the sum of digits decides
		t.Fatalf("%v\n%s", err, written)
	}
	if err == nil && len(again.Table.Rows) != len(table.Rows) {
		t.Fatalf("%d rows come back of %d\n%s", len(again.Table.Rows), len(table.Rows), written)
	}
}

// fuzzOptions turns one byte into flags.
func fuzzOptions(flags byte) readings.Options {
	o := readings.Options{File: "f", KnownPigments: []string{"WH", "RD", "C"}, Observer: color.TenDegree}
	if flags&1 != 0 {
		o.Condition = color.Under(color.D50, 2)
		o.Observer = 2
	}
	if flags&2 != 0 {
		o.Repeats = true
	}
	if flags&4 != 0 {
		o.Backing, o.ThicknessMM = "white", 3
	}
	if flags&8 != 0 {
		o.Map = map[string]string{"x": "ignore", "y": "WH", "z": "L_D65"}
	}
	if flags&16 != 0 {
		yes := true
		o.Percent = &yes
	}
	if flags&32 != 0 {
		o.Decimal = ','
	}
	if flags&64 != 0 {
		o.Separator = ';'
	}
	if flags&128 != 0 {
		o.Measurement.Specular, o.Mode = color.SpecularExcluded, "M1"
	}
	return o
}

func fuzzRead(t *testing.T, data []byte, flags byte) {
	if len(data) > longest {
		return
	}
	o := fuzzOptions(flags)
	for _, read := range []func(*bytes.Reader) (readings.Table, error){
		func(r *bytes.Reader) (readings.Table, error) { return readings.Chips(r, o) },
		func(r *bytes.Reader) (readings.Table, error) { return readings.Samples(r, o) },
		func(r *bytes.Reader) (readings.Table, error) {
			f, err := readings.Read(r, o)
			return f.Table, err
		},
	} {
		table, err := read(bytes.NewReader(data))
		if err != nil {
			checkError(t, err)
			if len(table.Rows) > 0 {
				t.Fatal("a refused file gives rows")
			}
			continue
		}
		if len(table.Rows) > 0 {
			checkTable(t, table, o)
		}
	}
}

func addFiles(f *testing.F, patterns ...string) {
	for _, p := range patterns {
		paths, _ := filepath.Glob("../../testdata/" + p)
		if len(paths) == 0 {
			f.Fatalf("no seed %s", p)
		}
		for _, path := range paths {
			data, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data[:min(len(data), 4000)], byte(0))
		}
	}
}

func FuzzDelimited(f *testing.F) {
	addFiles(f, "../color/readings/testdata/stated/*.csv", "real_pigments/*.csv", "gnumeric/*.csv", "ohta1997/chart_10nm.csv")
	for _, s := range []string{
		chipsHeader + "A,white,3,1,0,50,1,1\n", "sep=;\nname;L;a;b\nA;50,5;1;2\n", "\xFF\xFEn\x00,\x00L\x00\n\x00", "name\tL_D65\ta_D65\tb_D65\nA\t-\t-\t-\n",
		spectra("0.5", "0.25"), spectra("50"), "x,y,z\n\"A\nB\",1,\"2\"\"\"\n", "name,L_A,a_A,b_A,L_D65,a_D65,b_D65,geometry,specular\nA,50,1,2,51,2,3,45/0,SCE\n",
		"| name | L_D65 | a_D65 | b_D65 |\n|---|---|---|---|\n| A | 50 | 1 | 2 |\n", "name  L_D65  a_D65  b_D65\nA     50,5  1  2\n", ",A,B\nL_D65,50,51\na_D65,1,2\nb_D65,3,4\n", "name,X_D65,Y_D65,Z_D65\nA,40,30,20\n",
		",D65/10,,,A/10,,\nName,L*,a*,b*,L*,a*,b*\nred,50,40,20,55,42,25\n", "name,type,m_condition,L_D65,a_D65,b_D65\nA,Standard,M0,50,1,2\nA,Trial,M1,51,2,3\n",
		"mix,WH\n#x,1\nB,0\n", "name;L*(10°/D65);a*(10°/D65);b*(10°/D65);illuminant\nA;1e2;-0;0;D65\n",
	} {
		for _, flags := range []byte{0, 1, 0x2F, 0x7F} {
			f.Add([]byte(s), flags)
		}
	}
	f.Fuzz(fuzzRead)
}

func FuzzExchangeText(f *testing.F) {
	addFiles(f, "iso28178/*.txt", "../color/readings/testdata/stated/*.txt")
	f.Add([]byte("ISO28178\nILLUMINANT D65\nOBSERVER 10\nSPECULAR excluded\nKEYWORD \"WH\"\nNUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\nSAMPLE_NAME WH LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\n\"A \"\"b\" 1 50 1 2\nEND_DATA\n"), byte(4))
	f.Add([]byte("BEGIN_DATA_FORMAT\nSAMPLE_ID SPECTRAL_NM SPECTRAL_DEC\nEND_DATA_FORMAT\nBEGIN_DATA\n1 400 0.5\n2 410 0.5\nEND_DATA\n"), byte(1))
	f.Add([]byte("BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 50 1\n2 2 50\n1 2\nEND_DATA\n"), byte(1))
	f.Fuzz(func(t *testing.T, data []byte, flags byte) {
		// What is fuzzed is this parser, not the sniffing before it.
		if !bytes.Contains(data, []byte("BEGIN_DATA_FORMAT\n")) {
			data = append([]byte("BEGIN_DATA_FORMAT\nSAMPLE_NAME WH LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"), data...)
		}
		fuzzRead(t, data, flags)
	})
}

func FuzzExchangeXML(f *testing.F) {
	addFiles(f, "iso17972/*.cxf", "../color/readings/testdata/stated/*.cxf")
	full, err := os.ReadFile("../../testdata/iso17972/parts.cxf")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(full, byte(0))
	f.Add([]byte(xmlHead+`<Object Name="A" Id="i"><ColorValues><ColorCIELab ColorSpecification="T"><L>50</L><A>1</A><B>2</B></ColorCIELab><ReflectanceSpectrum ColorSpecification="I">`+strings.Repeat("0.25 ", 31)+`</ReflectanceSpectrum></ColorValues></Object>`+xmlTail), byte(0))
	f.Add([]byte(`<!DOCTYPE CxF [<!ENTITY a "b">]><CxF>&a;</CxF>`), byte(1))
	f.Add([]byte(`<?xml version="1.0" encoding="ISO-8859-1"?><CxF><Object><L>`), byte(1))
	f.Fuzz(func(t *testing.T, data []byte, flags byte) {
		if !bytes.HasPrefix(bytes.TrimSpace(data), []byte("<")) {
			data = append([]byte(xmlHead), data...)
		}
		fuzzRead(t, data, flags)
	})
}

// FuzzWorkbook fuzzes the parts within the ZIP, since a checksum stops all else.
func FuzzWorkbook(f *testing.F) {
	whole, err := os.ReadFile("../../testdata/gnumeric/chips.xlsx")
	if err != nil {
		f.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(whole), int64(len(whole)))
	if err != nil {
		f.Fatal(err)
	}
	parts := map[string][]byte{}
	for _, p := range z.File {
		r, err := p.Open()
		if err != nil {
			f.Fatal(err)
		}
		var b bytes.Buffer
		if _, err := b.ReadFrom(r); err != nil {
			f.Fatal(err)
		}
		r.Close()
		parts[p.Name] = b.Bytes()
	}
	const sheetPart, stringsPart = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"
	sheet := `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>name</t></is></c><c r="B1" t="s"><v>0</v></c><c r="C1" t="str"><v>a_D65</v></c><c r="D1" t="inlineStr"><is><t>b_D65</t></is></c></row><row r="2"><c r="A2" t="inlineStr"><is><t>A</t></is></c><c r="B2"><v>50.5</v></c><c r="C2"><v>1</v></c><c r="D2"><v>2</v></c></row></sheetData></worksheet>`
	f.Add([]byte(sheet), []byte(`<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>L_D65</t></si></sst>`), byte(0))
	f.Add([]byte(strings.Replace(sheet, `r="2"`, `r="1048576"`, 1)), []byte(`<sst><si><r><t>L_</t></r><r><t>D65</t></r></si></sst>`), byte(1))
	f.Add([]byte(strings.Replace(sheet, `r="D2"`, `r="XFD2"`, 1)), []byte(`<sst/>`), byte(1))
	f.Add([]byte(`<worksheet><sheetData><row r="-1"><c r="AAAAAAAA99999999999" t="s"><v>99999999</v></c></row></sheetData></worksheet>`), []byte(`<sst count="-5"/>`), byte(2))
	f.Add(parts[sheetPart][:3000], parts[stringsPart], byte(0))
	f.Fuzz(func(t *testing.T, sheet, texts []byte, flags byte) {
		if len(sheet)+len(texts) > longest {
			return
		}
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		for name, body := range parts {
			switch name {
			case sheetPart:
				body = sheet
			case stringsPart:
				body = texts
			}
			p, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := p.Write(body); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		fuzzRead(t, b.Bytes(), flags)
	})
}

func FuzzODS(f *testing.F) {
	f.Add(odsHead+odsRow+odsEnd, byte(0))
	f.Add(odsHead+`<table:table-row><table:covered-table-cell table:number-columns-repeated="9"/></table:table-row>`, byte(1))
	f.Add(`<table:table-row><table:table-cell office:date-value="2026-02-03"><office:annotation><text:p>x</text:p></office:annotation></table:table-cell></table:table-row>`, byte(4))
	f.Fuzz(func(t *testing.T, rows string, flags byte) { fuzzRead(t, ods(t, rows), flags) })
}

func FuzzPigments(f *testing.F) {
	for _, s := range []string{"code,ci_name,density,max_phr\nWH,PW6,1.8,6\n", "code;stock_g;price\nWH;1,250;2,5\n", "code\n", "code,name\nL,x\n", "sep=\t\ncode\tstrength\nA\t10\n"} {
		f.Add([]byte(s), byte(0))
		f.Add([]byte(s), byte(0x60))
	}
	f.Fuzz(func(t *testing.T, data []byte, flags byte) {
		if len(data) > longest {
			return
		}
		list, err := readings.Pigments(bytes.NewReader(data), fuzzOptions(flags))
		if err != nil {
			checkError(t, err)
			return
		}
		seen := map[string]bool{}
		for _, p := range list {
			if p.Code == "" || seen[p.Code] || len([]rune(p.Code)) > 16 {
				t.Fatalf("code %q", p.Code)
			}
			seen[p.Code] = true
			for _, v := range []*float64{p.DensityGML, p.MaxPHR, p.PricePerKg, p.StockG, p.StrengthPercent} {
				if v != nil && !(*v >= 0 && *v <= 1e8) {
					t.Fatalf("%g", *v)
				}
			}
		}
	})
}

func FuzzTyped(f *testing.F) {
	for _, s := range []string{"61.2 38.9 21.4", "61,2;38,9;21,4", "L=61.2 a=38.9 b=21.4", "1e999 0 0", "50, 1, 1", ",,,", "−5 0 0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		lab, err := readings.Typed(text, color.D65Ten())
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Fatalf("%q", err)
			}
			return
		}
		if !(lab.L >= 0 && lab.L <= 100 && math.Abs(lab.A) <= 200 && math.Abs(lab.B) <= 200) {
			t.Fatalf("%v", lab)
		}
	})
}

package readings_test

import (
	"fmt"
	"os"
	"strings"

	"masstone/color"
	"masstone/color/readings"
)

func ExampleChips() {
	file := `# three chips on the white card
chip,backing,thickness_mm,GW,HB,L_D65,a_D65,b_D65
C1,white,3.0,1.0,0,93.10,-0.85,5.20
C2,white,3.0,1.0,0.1,71.35,-9.60,-21.15
C3,black,3.0,0,1.0,24.90,8.15,-31.40
`
	table, err := readings.Chips(strings.NewReader(file), readings.Options{File: "chips.csv", KnownPigments: []string{"GW", "HB"}})
	fmt.Println(table.Notes[0], err)
	fmt.Println(table.Rows[1].Name, table.Rows[1].Loadings["HB"], table.Rows[1].Labs[0])
	// Output:
	// 3 chips; comma-separated; decimal point; Lab under D65/10 <nil>
	// C2 0.1 {71.35 -9.6 -21.15 D65/10}
}

func ExampleErrors() {
	file := `chip,backing,thickness_mm,GW,HP,L_D65,a_D65,b_D65
C1,white,3.0,1.0,0,930,-0.85,5.20
C1,white,,1.0,0.1,71.35,-9.60,-21.15
`
	_, err := readings.Chips(strings.NewReader(file), readings.Options{File: "chips.csv", KnownPigments: []string{"GW", "HB"}})
	fmt.Println(err)
	// Output:
	// chips.csv:1: column HP: is unknown; did you mean HB? a pigment must be imported first; else ⟦map=HP=COLUMN⟧ or ⟦map=HP=ignore⟧
	// chips.csv:2: C1: column L_D65: L* 930 is outside 0..100; check the column order and the calibration of the instrument
	// chips.csv:3: C1: column thickness_mm: is empty; write the thickness of the piece
	// chips.csv:3: C1: the name already stands in row 2; give each chip its own name, or say ⟦repeats⟧ if these are readings of one piece
}

func ExampleMixtures() {
	table, err := readings.Mixtures(strings.NewReader("mix,GW,HB\nM1,0.8,0.05\n"), readings.Options{KnownPigments: []string{"GW", "HB"}})
	fmt.Println(table.Rows[0].Loadings, err)
	// Output: map[GW:0.8 HB:0.05] <nil>
}

func ExampleSamples() {
	table, err := readings.Samples(strings.NewReader("Name;L*(10°/D65);a*(10°/D65);b*(10°/D65)\nLamp housing;61,2;38,9;21,4\n"), readings.Options{})
	fmt.Println(table.Notes[0], err)
	fmt.Println(table.Rows[0].Name, table.Rows[0].Labs[0])
	// Output:
	// 1 sample; semicolon-separated; decimal comma; Lab under D65/10 <nil>
	// Lamp housing {61.2 38.9 21.4 D65/10}
}

func ExamplePigments() {
	list, err := readings.Pigments(strings.NewReader("code,ci_name,density\nGW,PW6,1.82\nHB,,\n"), readings.Options{})
	fmt.Println(list[0].Code, list[0].CIName, *list[0].DensityGML, list[1].DensityGML == nil, err)
	// Output: GW PW6 1.82 true <nil>
}

func ExampleRead() {
	f, err := readings.Read(strings.NewReader("code,ci_name\nGW,PW6\n"), readings.Options{})
	fmt.Println(f.Kind, len(f.Pigments), err)
	// Output: pigments 1 <nil>
}

func ExamplePieces() {
	table, _ := readings.Samples(strings.NewReader("name,L_D65,a_D65,b_D65\nLamp,61.2,38.9,21.4\nLamp,61.3,38.7,21.5\n"), readings.Options{})
	pieces, err := readings.Pieces("lamp.csv", table.Rows)
	fmt.Printf("%s %.2f MCDM %.2f %v\n", pieces[0].Name, pieces[0].Labs[0].L, pieces[0].Repeat[0].MCDM, err)
	// Output: Lamp 61.25 MCDM 0.08 <nil>
}

func ExampleJoin() {
	poured, _ := readings.Mixtures(strings.NewReader("chip,backing,thickness_mm,GW\nC1,white,3,1\n"), readings.Options{KnownPigments: []string{"GW"}})
	read, _ := readings.Samples(strings.NewReader("name,L_D65,a_D65,b_D65\nC1,93.1,-0.85,5.2\n"), readings.Options{})
	table, err := readings.Join("chips", poured, read)
	fmt.Println(table.Rows[0].Loadings, table.Rows[0].Labs[0], err)
	// Output: map[GW:1] {93.1 -0.85 5.2 D65/10} <nil>
}

func ExampleTyped() {
	fmt.Println(readings.Typed("61,2 38,9 21,4", color.D65Ten()))
	// Output: {61.2 38.9 21.4 D65/10} <nil>
}

func ExampleJudge() {
	_, err := readings.Judge("typed", []readings.Row{{Line: 1, Name: "Lamp", Labs: []color.Lab{{L: 50, A: 150, B: -190, Under: color.D65Ten()}}}})
	fmt.Println(err)
	// Output: typed:1: Lamp: chroma 242.1 at L* 50.0: no surface passes 107.0 there under D65/10; check columns and illuminant; a piece that fluoresces cannot be used
}

func ExampleWriteText() {
	table := readings.Table{Rows: []readings.Row{{Name: "Lamp", Labs: []color.Lab{{L: 61.2, A: 38.9, B: 21.4, Under: color.D65Ten()}}}}}
	_, _ = readings.WriteText(os.Stdout, table, readings.ExchangeHeader{Originator: "masstone", Descriptor: "lamp", Created: "2026-02-03"})
	// Output:
	// ISO28178
	//
	// ORIGINATOR	"masstone"
	// DESCRIPTOR	"lamp"
	// CREATED	"2026-02-03"
	// WEIGHTING_FUNCTION	"ILLUMINANT, D65"
	// WEIGHTING_FUNCTION	"OBSERVER, 10 degree"
	//
	// NUMBER_OF_FIELDS	5
	// BEGIN_DATA_FORMAT
	// SAMPLE_ID	SAMPLE_NAME	LAB_L	LAB_A	LAB_B
	// END_DATA_FORMAT
	//
	// NUMBER_OF_SETS	1
	// BEGIN_DATA
	// 1	"Lamp"	61.2	38.9	21.4
	// END_DATA
}

func ExampleWriteCSV() {
	table := readings.Table{Pigments: []string{"GW"}, Rows: []readings.Row{{Name: "C1", Backing: "white", ThicknessMM: 3, Loadings: map[string]float64{"GW": 1}, Labs: []color.Lab{{L: 93.1, A: -0.85, B: 5.2, Under: color.D65Ten()}}}}}
	_ = readings.WriteCSV(os.Stdout, table)
	// Output:
	// name,backing,thickness_mm,GW,L_D65_10,a_D65_10,b_D65_10
	// C1,white,3,1,93.1,-0.85,5.2
}

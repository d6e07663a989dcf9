package papers_test

import (
	"fmt"
	"os"
	"time"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/papers"
)

func ExampleWrite() {
	card := papers.RecipeCard{
		Heading: papers.Heading{Made: time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)},
		Recipe:  "R1", Resin: "CLR", Target: "Harbour lamp",
		Loadings: []papers.Loading{{Pigment: "WH", Name: "Titanium white", PHR: 1.02}, {Pigment: "RD", Name: "Lamp red", PHR: 0.21}},
	}
	if err := papers.Write(os.Stdout, card, papers.Text, papers.Options{Width: 60}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// Recipe card R1                                    2026-03-31
	// For "Harbour lamp" in resin CLR
	// find again: masstone:recipe/R1
	//
	// Loadings, grams of paste on 100 g of mixed resin:
	// pigment  name             phr
	// WH       Titanium white  1.02
	// RD       Lamp red        0.21
	//          in all          1.23
}

func ExampleFormatOf() {
	fmt.Println(papers.FormatOf("sheet.pdf"))
	_, err := papers.FormatOf("sheet.docx")
	fmt.Println(err)
	// Output:
	// pdf <nil>
	// sheet.docx: ".docx" is no ending this program writes: use .pdf, .html, .csv, .json or .txt
}

func ExampleRefTo() {
	fmt.Println(papers.RefTo(papers.ChipRef, "CLR", "RD0.2-WH1 over black"))
	// Output: masstone:chip/CLR/RD0.2-WH1%20over%20black
}

func ExampleParseRef() {
	r, err := papers.ParseRef("masstone:batch/B7")
	fmt.Println(r.Kind, r.Names, err)
	// Output: batch [B7] <nil>
}

func ExampleCertificate_Judge() {
	under := color.D65Ten()
	c := papers.Certificate{Target: "Harbour lamp", Tolerance: 1, Lights: []papers.Reading{
		{Target: color.LabFrom([3]float64{48.31, 42.07, 21.50}, under), Part: color.LabFrom([3]float64{47.96, 41.71, 21.83}, under)},
	}}
	j, err := c.Judge()
	fmt.Printf("%.2f %s, within %v, %v\n", j.Differences[0].DE, j.Differences[0].Words(), j.Within, err)
	// Output: 0.45 yellower, darker, within true, <nil>
}

func ExampleJarLabel() {
	l := papers.JarLabel("RD", "Lamp red", "PR 254", "R-0904", 1.21, calibrate.PHR(1.5))
	fmt.Println(l.Code, l.Name, l.Lines, l.Find)
	// Output: RD Lamp red [PR 254 lot R-0904 1.21 g/ml at most 1.5 phr] masstone:pigment/RD
}

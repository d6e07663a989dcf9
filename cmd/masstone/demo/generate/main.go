// Command generate makes the files of the invented shop from a seed: smooth
// invented absorption and scattering curves, light followed through the layer
// by the exact layer model, weighing errors and reading noise.
package main

import (
	"fmt"
	"log"
	"math"
	"os"
	"path/filepath"
	"strings"

	"masstone/cmd/masstone/demo"
)

const seed = 20260

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: generate FOLDER")
	}
	s, err := demo.NewBench(seed)
	if err != nil {
		log.Fatal(err)
	}
	write("pigments.csv", shelf())
	write("chips.csv", chips(s))
	write("mixtures.csv", mixtures(s))
	write("lamp.csv", s.Part("housing", map[string]float64{"WH": 1.1, "FG": 0.21, "UM": 0.16, "OX": 0.12}))
}

func write(name, text string) {
	if err := os.WriteFile(filepath.Join(os.Args[1], name), []byte(demo.Invented+text), 0o644); err != nil {
		log.Fatal(err)
	}
}

func shelf() string {
	var b strings.Builder
	b.WriteString("code,name,density,max_phr,price_per_kg\n")
	for _, p := range demo.Pigments() {
		fmt.Fprintf(&b, "%s,%s,%g,%g,%g\n", p.Code, p.Name, p.Density, p.MaxPHR, p.Price)
	}
	return b.String()
}

func head(b *strings.Builder, first string, spectrum bool) {
	b.WriteString(first)
	for _, p := range demo.Pigments() {
		b.WriteString("," + p.Code)
	}
	b.WriteString(",L_D65,a_D65,b_D65")
	if spectrum {
		demo.BandHeads(b)
	}
	b.WriteString("\n")
}

func loadings(b *strings.Builder, phr map[string]float64) {
	for _, p := range demo.Pigments() {
		fmt.Fprintf(b, ",%g", phr[p.Code])
	}
}

// chips is the calibration set: the bare resin, white thick and thin, and each
// colour as masstone, in white, with a little white, and thin over black.
func chips(s *demo.Bench) string {
	var b strings.Builder
	head(&b, "chip,backing,thickness_mm", true)
	chip := func(name, backing string, phr map[string]float64) {
		over := 0.90
		if backing == "black" {
			over = 0.03
		}
		r, lab := s.Read(s.Weighed(phr), 3, over)
		fmt.Fprintf(&b, "%s,%s,3", name, backing)
		loadings(&b, phr)
		demo.Reading(&b, &r, lab)
		b.WriteString("\n")
	}
	chip("clear", "white", nil)
	chip("WH-2", "white", map[string]float64{"WH": 2})
	chip("WH-05-white", "white", map[string]float64{"WH": 0.5})
	chip("WH-05-black", "black", map[string]float64{"WH": 0.5})
	for _, p := range demo.Pigments()[1:] {
		chip(p.Code+"-masstone", "white", map[string]float64{p.Code: 1})
		chip(p.Code+"-tint", "white", map[string]float64{"WH": 1, p.Code: 0.2})
		chip(p.Code+"-deep", "white", map[string]float64{"WH": 0.3, p.Code: 1.2})
		chip(p.Code+"-thin", "black", map[string]float64{p.Code: 0.2})
	}
	return b.String()
}

// mixtures are random recipes that no chip shows.
func mixtures(s *demo.Bench) string {
	var b strings.Builder
	head(&b, "mix", false)
	pigments := demo.Pigments()
	for n := range 16 {
		phr := map[string]float64{"WH": math.Round((0.4+1.2*s.Float64())*1000) / 1000}
		for _, i := range s.Perm(len(pigments) - 1)[:2+n%2] {
			phr[pigments[i+1].Code] = math.Round(0.8*math.Pow(s.Float64(), 2)*1000+20) / 1000
		}
		_, lab := s.Read(phr, 3, 0.90)
		fmt.Fprintf(&b, "mix %02d", n+1)
		loadings(&b, phr)
		fmt.Fprintf(&b, ",%.2f,%.2f,%.2f\n", lab.L, lab.A, lab.B)
	}
	return b.String()
}

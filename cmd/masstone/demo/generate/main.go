// Command generate makes the files of the invented shop from a seed: smooth
// invented absorption and scattering curves, light followed through the layer
// by the exact layer model, weighing errors and reading noise.
package main

import (
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"masstone/calibrate/layer"
	"masstone/color"
)

const (
	seed       = 20260
	chipGrams  = 50
	scaleGrams = 0.01
	noise      = 0.001 // of a reflectance factor
	index      = 1.50
)

// A pigment is an invented paste. Curves are per mm and phr.
type pigment struct {
	code, name             string
	density, maxPHR, price float64
	absorbs, scatters      func(nm float64) float64
}

// hump is a smooth band of a height, about a wavelength.
func hump(nm, height, at, width float64) float64 {
	d := (nm - at) / width
	return height * math.Exp(-d*d/2)
}

// edge falls smoothly from a height to nothing at a wavelength.
func edge(nm, height, at, width float64) float64 {
	return height / (1 + math.Exp((nm-at)/width))
}

func slope(level, power float64) func(float64) float64 {
	return func(nm float64) float64 { return level * math.Pow(nm/550, -power) }
}

var pigments = []pigment{
	{"WH", "dense white", 2.1, 6, 18, func(nm float64) float64 { return 0.004 + edge(nm, 0.9, 402, 7) }, slope(7.5, 0.9)},
	{"BK", "soot black", 1.2, 1.5, 14, func(nm float64) float64 { return 9 * math.Pow(nm/550, -0.4) }, slope(0.35, 1)},
	{"YE", "lantern yellow", 1.3, 3, 41, func(nm float64) float64 { return 0.01 + edge(nm, 6.5, 482, 9) }, slope(1.1, 1.2)},
	{"OX", "quay oxide", 1.9, 3, 16, func(nm float64) float64 { return 0.12 + edge(nm, 5.5, 563, 13) }, slope(2.2, 0.4)},
	{"CR", "signal crimson", 1.25, 2, 58, func(nm float64) float64 {
		return 0.01 + hump(nm, 6.2, 545, 38) + hump(nm, 2.4, 420, 45) + edge(nm, 1.5, 590, 8)
	}, slope(0.5, 1.4)},
	{"UM", "deep marine", 1.5, 3, 33, func(nm float64) float64 { return 0.03 + hump(nm, 4.6, 605, 52) + hump(nm, 0.5, 700, 60) }, slope(0.45, 2)},
	{"FG", "kelp green", 1.3, 2, 47, func(nm float64) float64 {
		return 0.05 + hump(nm, 7.8, 650, 48) + hump(nm, 3.6, 425, 40)
	}, slope(0.3, 1.5)},
}

func resinAbsorbs(nm float64) float64 { return 0.002 + edge(nm, 0.05, 418, 14) }
func resinScatters(float64) float64   { return 0.003 }

type shop struct {
	light *layer.Exact
	under *color.Weights
	rand  *rand.Rand
}

// read is what an instrument reads on a mixture: its reflectance and its Lab.
func (s *shop) read(phr map[string]float64, thickness, backing float64) (color.Reflectance, color.Lab) {
	var k, sc, back [color.Bands]float64
	for b := range color.Bands {
		nm := float64(color.WavelengthNM(b))
		k[b], sc[b], back[b] = resinAbsorbs(nm), resinScatters(nm), backing
		for _, p := range pigments {
			k[b] += phr[p.code] * p.absorbs(nm)
			sc[b] += phr[p.code] * p.scatters(nm)
		}
	}
	var out layer.Partials
	s.light.Bands(&k, &sc, thickness, &back, color.SpecularIncluded, &out)
	var r color.Reflectance
	for b := range r {
		r[b] = math.Round(math.Max(0, out.R[b]+noise*s.rand.NormFloat64())*1e4) / 1e4
	}
	return r, s.under.Lab(&r)
}

// weighed is what is really in a cup that the scale was read for.
func (s *shop) weighed(phr map[string]float64) map[string]float64 {
	codes := make([]string, 0, len(phr))
	for code := range phr {
		codes = append(codes, code)
	}
	sort.Strings(codes)
	out := map[string]float64{}
	for _, code := range codes {
		out[code] = phr[code] + (s.rand.Float64()-0.5)*scaleGrams*100/chipGrams
	}
	return out
}

const invented = `# INVENTED DATA for the demonstration: no pigment, chip or part in this file exists.
# Made by a seeded program from invented curves, with weighing errors and reading noise.
`

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: generate FOLDER")
	}
	light, err := layer.NewExact(index)
	if err != nil {
		log.Fatal(err)
	}
	under, err := color.WeightsFor(color.D65Ten())
	if err != nil {
		log.Fatal(err)
	}
	s := &shop{light, under, rand.New(rand.NewPCG(seed, 1))}
	write("pigments.csv", shelf())
	write("chips.csv", s.chips())
	write("mixtures.csv", s.mixtures())
	write("lamp.csv", s.lamp())
}

func write(name, text string) {
	if err := os.WriteFile(filepath.Join(os.Args[1], name), []byte(invented+text), 0o644); err != nil {
		log.Fatal(err)
	}
}

func shelf() string {
	var b strings.Builder
	b.WriteString("code,name,density,max_phr,price_per_kg\n")
	for _, p := range pigments {
		fmt.Fprintf(&b, "%s,%s,%g,%g,%g\n", p.code, p.name, p.density, p.maxPHR, p.price)
	}
	return b.String()
}

func head(b *strings.Builder, first string, spectrum bool) {
	b.WriteString(first)
	for _, p := range pigments {
		b.WriteString("," + p.code)
	}
	b.WriteString(",L_D65,a_D65,b_D65")
	if spectrum {
		bandHeads(b)
	}
	b.WriteString("\n")
}

func bandHeads(b *strings.Builder) {
	for i := range color.Bands {
		fmt.Fprintf(b, ",R%d", color.WavelengthNM(i))
	}
}

func loadings(b *strings.Builder, phr map[string]float64) {
	for _, p := range pigments {
		fmt.Fprintf(b, ",%g", phr[p.code])
	}
}

func reading(b *strings.Builder, r *color.Reflectance, lab color.Lab) {
	fmt.Fprintf(b, ",%.2f,%.2f,%.2f", lab.L, lab.A, lab.B)
	for _, v := range r {
		fmt.Fprintf(b, ",%.4f", v)
	}
}

// chips is the calibration set: the bare resin, white thick and thin, and each
// colour as masstone, in white, with a little white, and thin over black.
func (s *shop) chips() string {
	var b strings.Builder
	head(&b, "chip,backing,thickness_mm", true)
	chip := func(name, backing string, phr map[string]float64) {
		over := 0.90
		if backing == "black" {
			over = 0.03
		}
		r, lab := s.read(s.weighed(phr), 3, over)
		fmt.Fprintf(&b, "%s,%s,3", name, backing)
		loadings(&b, phr)
		reading(&b, &r, lab)
		b.WriteString("\n")
	}
	chip("clear", "white", nil)
	chip("WH-2", "white", map[string]float64{"WH": 2})
	chip("WH-05-white", "white", map[string]float64{"WH": 0.5})
	chip("WH-05-black", "black", map[string]float64{"WH": 0.5})
	for _, p := range pigments[1:] {
		chip(p.code+"-masstone", "white", map[string]float64{p.code: 1})
		chip(p.code+"-tint", "white", map[string]float64{"WH": 1, p.code: 0.2})
		chip(p.code+"-deep", "white", map[string]float64{"WH": 0.3, p.code: 1.2})
		chip(p.code+"-thin", "black", map[string]float64{p.code: 0.2})
	}
	return b.String()
}

// mixtures are random recipes that no chip shows.
func (s *shop) mixtures() string {
	var b strings.Builder
	head(&b, "mix", false)
	for n := range 16 {
		phr := map[string]float64{"WH": math.Round((0.4+1.2*s.rand.Float64())*1000) / 1000}
		for _, i := range s.rand.Perm(len(pigments) - 1)[:2+n%2] {
			phr[pigments[i+1].code] = math.Round(0.8*math.Pow(s.rand.Float64(), 2)*1000+20) / 1000
		}
		_, lab := s.read(phr, 3, 0.90)
		fmt.Fprintf(&b, "mix %02d", n+1)
		loadings(&b, phr)
		fmt.Fprintf(&b, ",%.2f,%.2f,%.2f\n", lab.L, lab.A, lab.B)
	}
	return b.String()
}

// lamp is the part to match, read three times.
func (s *shop) lamp() string {
	var b strings.Builder
	b.WriteString("name,L_D65,a_D65,b_D65")
	bandHeads(&b)
	b.WriteString("\n")
	for range 3 {
		r, lab := s.read(map[string]float64{"WH": 1.1, "FG": 0.21, "UM": 0.16, "OX": 0.12}, 3, 0.90)
		b.WriteString("housing")
		reading(&b, &r, lab)
		b.WriteString("\n")
	}
	return b.String()
}

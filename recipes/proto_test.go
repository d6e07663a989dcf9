package recipes

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"masstone/calibrate"
	"masstone/color"
)

func table(file string) (chips []calibrate.Chip, pigments []string) {
	f, _ := os.Open(file)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic(err)
	}
	for _, row := range rows[1:] {
		c := calibrate.Chip{Name: row[0], Loadings: map[string]calibrate.PHR{}, Thickness: 3, Backing: color.Constant(.9), BackingName: "white", ChipGrams: 50, ScaleGrams: .01, Measurement: color.Measurement{Geometry: "d/8", Specular: "included"}}
		pigments = nil
		var sp color.Reflectance
		nb := 0
		labs := map[string]*color.Lab{}
		for i, h := range rows[0][1:] {
			v, _ := strconv.ParseFloat(row[i+1], 64)
			switch {
			case h == "backing":
				if row[i+1] == "black" {
					c.Backing = color.Constant(.03)
				}
			case h == "thickness_mm":
			case len(h) > 2 && h[1] == '_':
				if labs[h[2:]] == nil {
					labs[h[2:]] = &color.Lab{Under: color.Under(color.Illuminant(h[2:]), 10)}
				}
				l := labs[h[2:]]
				switch h[0] {
				case 'L':
					l.L = v
				case 'a':
					l.A = v
				case 'b':
					l.B = v
				}
			case strings.HasPrefix(h, "R") && len(h) == 4:
				sp[nb] = v
				nb++
			default:
				c.Loadings[h] = calibrate.PHR(v)
				pigments = append(pigments, h)
			}
		}
		for _, k := range []string{"D65", "A", "FL11"} {
			c.Labs = append(c.Labs, *labs[k])
		}
		if nb > 0 {
			c.Spectrum = &sp
		}
		chips = append(chips, c)
	}
	return
}

func TestProtoMatch(t *testing.T) {
	chips, pigs := table("../testdata/real_pigments/chips.csv")
	mix, _ := table("../testdata/real_pigments/mixtures.csv")
	for i := range chips {
		chips[i].Spectrum = nil
		chips[i].Labs = chips[i].Labs[:1]
	}
	cal, err := calibrate.Fit(context.Background(), pigs, chips, calibrate.Options{Layer: "kubelka-munk"})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range mix[:12] {
		tg := Target{Name: m.Name, Labs: m.Labs[:1], Setting: calibrate.Setting{Thickness: 3, Backing: m.Backing, Specular: "included"}}
		t0 := time.Now()
		a, err := Match(context.Background(), cal, tg, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		dt := time.Since(t0)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(m.Name, m.Labs[0].Values(), a.Subsets, a.Solved, a.Excluded, dt, a.InGamut, a.Missing, a.Binding, a.Notes)
		for _, r := range a.Recipes {
			fmt.Printf("   %.3f exp %.3f up %.3f ch %.2f obj %.3f op %.3f %v %v\n", r.DE00, r.Expected, r.Upper95, r.Chance, r.Objective, r.Opacity, r.Why, loadingsText(r.Loadings))
		}
	}
}

package castplan_test

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

func exampleBench() *castplan.Bench {
	return &castplan.Bench{
		ChipGrams: 50, ScaleGrams: 0.01, Thickness: 3, MaxPHR: 4,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded},
		Backings: []castplan.Backing{
			{Name: "white", Reflectance: color.Constant(0.90)},
			{Name: "black", Reflectance: color.Constant(0.03)},
		},
	}
}

func list(chips []castplan.Chip) {
	for _, c := range chips {
		fmt.Print(c.Name, ":")
		for _, code := range slices.Sorted(maps.Keys(c.Grams)) {
			fmt.Printf(" %s %.2f g", code, float64(c.Grams[code]))
		}
		fmt.Println()
	}
}

// The first chips of a shelf of a white and two colours, into cups of 50 g of
// mixed resin.
func ExampleStart() {
	chips, err := castplan.Start(castplan.Shelf{
		Pigments: []string{"WH", "RD", "UB"}, Whites: []string{"WH"},
		Reading: castplan.Reading{Spectrum: true},
	}, exampleBench())
	list(chips)
	fmt.Println(err)
	// Output:
	// resin-white:
	// resin-black:
	// WH2-white: WH 1.00 g
	// WH1-black: WH 0.50 g
	// RD2-white: RD 1.00 g
	// RD0.5-WH2-white: RD 0.25 g WH 1.00 g
	// UB2-white: UB 1.00 g
	// UB0.5-WH2-white: UB 0.25 g WH 1.00 g
	// <nil>
}

func ExampleBench_Weigh() {
	b := exampleBench()
	chip, ok := b.Weigh(map[string]calibrate.PHR{"RD": 0.333, "WH": 1}, b.Backings[0])
	fmt.Println(chip.Grams["RD"], chip.Loadings["RD"], ok)
	// Output: 0.17 0.34 true
}

func ExampleNext() {
	shop := virtualshop.Painted(1, 4)
	b := &castplan.Bench{
		ChipGrams: shop.ChipGrams, ScaleGrams: shop.ScaleGrams, Thickness: shop.Setting.Thickness,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: shop.Setting.Specular},
		Backings:    []castplan.Backing{{Name: "white", Reflectance: shop.Setting.Backing}, {Name: "black", Reflectance: shop.Dark}},
	}
	first, err := castplan.Start(castplan.Shelf{Pigments: shop.Codes, Whites: []string{"WH"}, PerColour: 1}, b)
	if err != nil {
		fmt.Println(err)
		return
	}
	var read []calibrate.Chip
	for _, c := range first {
		read = append(read, shop.Cast(rand.New(rand.NewPCG(1, 1)), c.Evidence()))
	}
	ctx := context.Background()
	cal, err := calibrate.Fit(ctx, shop.Codes, virtualshop.ThreeLights.Of(read), calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}

	whites, err := castplan.Whites(cal)
	if err != nil {
		fmt.Println(err)
		return
	}
	candidates, err := castplan.Candidates(cal, b, whites)
	if err != nil {
		fmt.Println(err)
		return
	}
	gamut, err := castplan.Gamut(cal, b, whites, 100)
	if err != nil {
		fmt.Println(err)
		return
	}
	plan, err := castplan.Next(ctx, cal, castplan.Request{Reading: castplan.ReadingOf(cal), Candidates: candidates, Interest: gamut, Count: 3})
	fmt.Println(len(plan.Steps), plan.Steps[2].After < plan.Before/2, err)
	// Output: 3 true <nil>
}

package recipes_test

import (
	"context"
	"fmt"
	"math/rand/v2"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/recipes"
)

// Fit an invented shop from its chips, then match a colour it never cast.
func ExampleMatch() {
	shop := virtualshop.Painted(3, 5)
	rng := rand.New(rand.NewPCG(1, 1))
	chips := virtualshop.Spectra.Of(shop.CastAll(rng, shop.Study(virtualshop.Thin)))
	cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}
	part := shop.Color(map[string]calibrate.PHR{"WH": 1.2, "YE": 0.4, "BK": 0.02}, shop.Setting, cal.Main)
	answer, err := recipes.Match(context.Background(), cal, recipes.Target{
		Name: "knob", Labs: []color.Lab{part}, Setting: shop.Setting, Tolerance: 1,
	}, recipes.Limits{MaxPigments: 3, BatchGrams: 100, ScaleGrams: 0.01})
	if err != nil {
		fmt.Println(err)
		return
	}
	best := answer.Recipes[0]
	fmt.Printf("%d of %d sets of pigments covered\n", answer.Solved+answer.Excluded, answer.Subsets)
	fmt.Println("lands within 1.0:", best.Chance > 0.95)
	// Output:
	// 25 of 25 sets of pigments covered
	// lands within 1.0: true
}

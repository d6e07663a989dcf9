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

// A pour from a lot of red that is 15 % weak, and the ways out of it.
func ExampleCorrect() {
	shop := virtualshop.Painted(3, 5)
	rng := rand.New(rand.NewPCG(1, 1))
	chips := virtualshop.Spectra.Of(shop.CastAll(rng, shop.Study(virtualshop.Thin)))
	cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}
	recipe := map[string]calibrate.PHR{"WH": 1.2, "RD": 0.4}
	target := recipes.Target{
		Name: "knob", Labs: []color.Lab{shop.Color(recipe, shop.Setting, cal.Main)}, Setting: shop.Setting, Tolerance: 1,
	}

	weighed := shop.Chip("first", recipe)
	weighed.ChipGrams = 200
	part := shop.WithLot("RD", 0.85).Cast(rng, weighed)
	pour := recipes.Pour{Name: "first", Loadings: recipe, Spectrum: part.Spectrum, BatchGrams: 200, ScaleGrams: 0.01, FromPot: true}
	pot := recipes.Pot{Resin: 200, Pigments: map[string]calibrate.Grams{"WH": 2.40, "RD": 0.80}, ScaleGrams: 0.01}
	out, err := recipes.Correct(context.Background(), cal, target, []recipes.Pour{pour}, recipes.CorrectOptions{
		Limits: recipes.Limits{BatchGrams: 200, ScaleGrams: 0.01}, Pot: &pot,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("the part is %s; chance to pass %.0f %%\n", out.Live.Words, 100*out.Live.Chance)
	fmt.Printf("red is learnt to be weak: %t\n", out.Strengths["RD"].Ln < -0.05)
	fmt.Printf("%s: about 0.1 g of red: %t, lands within 1.0: %t\n", out.Best, out.Add.Add["RD"] > 0.08 && out.Add.Add["RD"] < 0.2, out.Add.Chance > 0.95)
	// Output:
	// the part is lighter, weaker; chance to pass 0 %
	// red is learnt to be weak: true
	// add to the pot: about 0.1 g of red: true, lands within 1.0: true
}

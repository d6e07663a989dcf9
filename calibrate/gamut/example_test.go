package gamut_test

import (
	"context"
	"fmt"
	"math/rand/v2"

	"masstone/calibrate"
	"masstone/calibrate/gamut"
	"masstone/calibrate/virtualshop"
)

// What a shelf of two pigments reaches at two lightnesses.
func ExampleSections() {
	shop := virtualshop.Painted(3, 2)
	chips := virtualshop.Spectra.Of(shop.CastAll(rand.New(rand.NewPCG(1, 1)), shop.Study(virtualshop.Tint)))
	cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}
	sections, err := gamut.Sections(cal, shop.Setting, []float64{5, 60}, gamut.Limits{TotalPHR: 3})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range sections {
		fmt.Printf("L* %g: reached %t\n", s.L, s.Center != nil)
	}
	// Output:
	// L* 5: reached false
	// L* 60: reached true
}

package charts_test

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"

	"masstone/calibrate"
	"masstone/calibrate/charts"
	"masstone/calibrate/virtualshop"
)

// The charts of a fit are written wherever a command wants them.
func ExampleAll() {
	shop := virtualshop.Painted(3, 2)
	chips := virtualshop.Spectra.Of(shop.CastAll(rand.New(rand.NewPCG(1, 1)), shop.Study(virtualshop.Tint)))
	cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}
	all, err := charts.All(cal, charts.Options{Title: "CLR version 1", Chips: chips})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range all {
		var file bytes.Buffer
		if err := c.Draw(&file, c.Formats[0]); err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(c.Name, c.Formats)
	}
	// Output:
	// curves [svg png]
	// curves-resin [svg png]
	// curves-WH [svg png]
	// curves-BK [svg png]
	// chips [svg png]
	// left-out [svg png]
	// gamut [svg png]
	// chips [csv]
	// curves [csv]
}

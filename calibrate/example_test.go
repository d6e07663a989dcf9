package calibrate_test

import (
	"context"
	"fmt"
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// reading is one Lab of a chip, cast 3 mm thick over a white tile from 50 g of
// resin on a scale of 0.01 g.
func reading(name string, l, a, b float64, loadings map[string]calibrate.PHR) calibrate.Chip {
	return calibrate.Chip{
		Name: name, Loadings: loadings, Thickness: 3, BackingName: "white", Backing: color.Constant(0.9),
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded},
		Labs:        []color.Lab{{L: l, A: a, B: b, Under: color.D65Ten()}},
		ChipGrams:   50, ScaleGrams: 0.01,
	}
}

type phr = map[string]calibrate.PHR

func exampleChips() []calibrate.Chip {
	return []calibrate.Chip{
		reading("C-01", 94.95, -1.15, 3.35, phr{"WH": 1}),
		reading("C-02", 96.26, -1.15, 3.02, phr{"WH": 2}),
		reading("C-03", 93.10, -1.23, 4.11, phr{"WH": 0.5}),
		reading("C-04", 40.07, -25.93, -22.60, phr{"BL": 1}),
		reading("C-05", 68.21, -31.02, -24.22, phr{"WH": 1, "BL": 0.5}),
		reading("C-06", 80.03, -22.99, -16.04, phr{"WH": 1, "BL": 0.1}),
		reading("C-07", 50.56, -38.00, -30.12, phr{"BL": 0.2}),
		reading("C-08", 50.42, -31.21, -26.36, phr{"WH": 0.3, "BL": 1.5}),
	}
}

// Eight chips of a white and a blue teach how the two mix.
func ExampleFit() {
	c, err := calibrate.Fit(context.Background(), []string{"WH", "BL"}, exampleChips(), calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(c.Codes(), "up to", c.MaxTotal, "phr")
	fmt.Println("each chip foretold by the others within", math.Ceil(c.LeaveOut.MeanDE00), "on average")
	for _, chip := range c.Chips {
		if chip.Sigma > 4 {
			fmt.Println("read again:", chip.Chip)
		}
	}
	// Output:
	// [WH BL] up to 2 phr
	// each chip foretold by the others within 1 on average
}

// A mixture that was never cast comes with its bars.
func ExampleCalibration_Predict() {
	c, err := calibrate.Fit(context.Background(), []string{"WH", "BL"}, exampleChips(), calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := c.Predict(calibrate.Sample{
		Loadings: phr{"WH": 1, "BL": 0.25},
		Setting:  calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9), Specular: color.SpecularIncluded},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	pale := p.Colors[0]
	fmt.Printf("L* %.0f a* %.0f b* %.0f\n", pale.Lab.L, pale.Lab.A, pale.Lab.B)
	fmt.Println("95 times in 100 within a CIEDE2000 of", math.Ceil(pale.Upper95))
	// Output:
	// L* 74 a* -28 b* -21
	// 95 times in 100 within a CIEDE2000 of 1
}

package layer_test

import (
	"fmt"

	"masstone/calibrate/layer"
	"masstone/color"
)

// flat has the same value in every band.
func flat(v float64) *[color.Bands]float64 {
	var a [color.Bands]float64
	for i := range a {
		a[i] = v
	}
	return &a
}

// Three mm of a grey tint over a white backing, and what a tenth of a mm more
// would do to the reading.
func ExampleKubelkaMunk_Bands() {
	var p layer.Partials
	layer.NewKubelkaMunk().Bands(flat(0.05), flat(0.8), 3, flat(0.85), color.SpecularIncluded, &p)
	fmt.Printf("R %.4f, 0.1 mm more %+.4f\n", p.R[0], 0.1*p.DX[0])
	// Output: R 0.5448, 0.1 mm more -0.0021
}

// The same layer by radiative transfer.
func ExampleExact_Bands() {
	exact, err := layer.NewExact(1.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	var p layer.Partials
	exact.Bands(flat(0.05), flat(0.8), 3, flat(0.85), color.SpecularIncluded, &p)
	fmt.Printf("%s: R %.4f, 0.1 mm more %+.4f\n", exact.Name(), p.R[0], 0.1*p.DX[0])
	// Output: exact layer, n 1.50: R 0.5257, 0.1 mm more -0.0025
}

// And directly, in finer directions and with forward scattering.
func ExampleSlab_Reflectance() {
	s, err := layer.NewSlab(layer.Optics{Index: 1.47, Anisotropy: 0.6, Directions: 32, ViewDegrees: 8})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("R %.4f\n", s.Reflectance(0.05, 0.8, 3, 0.85, color.SpecularIncluded))
	// Output: R 0.5308
}

// Black paper, 0.05, under a clear chip: wetted on, and laid dry.
func ExampleSurfaceShares_AcrossGap() {
	s := layer.Surface(1.5)
	fmt.Printf("contact 0.05, gap %.2f\n", s.AcrossGap(0.05))
	// Output: contact 0.05, gap 0.61
}

// The internal reflectance of an infinitely deep layer, a - b.
func ExampleInternalReflectance() {
	fmt.Printf("%.4f\n", layer.InternalReflectance(0.5, 1, 1e9, 0))
	// Output: 0.3820
}

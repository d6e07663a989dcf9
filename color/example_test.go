package color_test

import (
	"fmt"

	"masstone/color"
)

func ExampleCompare() {
	std := color.Lab{L: 61.2, A: 38.9, B: 21.4, Under: color.D65Ten()}
	sample := color.Lab{L: 60.4, A: 38.0, B: 22.1, Under: color.D65Ten()}
	d, err := color.Compare(std, sample, color.CIEDE2000)
	fmt.Printf("%.2f %s %v\n", d.DE, d.Words(), err)

	sample.Under = color.Under(color.A, color.TenDegree)
	_, err = color.Compare(std, sample, color.CIEDE2000)
	fmt.Println(err)
	// Output:
	// 0.99 yellower, darker, weaker <nil>
	// colours are under different conditions: D65/10 and A/10; state both under one
}

func ExampleLab_DeltaE00() {
	// The first pair of Sharma, Wu, Dalal 2005.
	under := color.Under(color.D65, color.TwoDegree)
	de, err := color.Lab{L: 50, A: 2.6772, B: -79.7751, Under: under}.DeltaE00(color.Lab{L: 50, A: 0, B: -82.7485, Under: under})
	fmt.Printf("%.4f %v\n", de, err)
	// Output: 2.0425 <nil>
}

func ExampleWeightsFor() {
	w, err := color.WeightsFor(color.D65Ten())
	grey := color.Constant(0.18)
	lab := w.Lab(&grey)
	fmt.Printf("%.3f %v\n", w.White, err)
	fmt.Printf("%.2f %s\n", lab.L, lab.Under)
	// Output:
	// [94.811 100.000 107.305] <nil>
	// 49.50 D65/10
}

func ExampleSpectrum_Lab() {
	s := color.Spectrum{FirstNM: 400, StepNM: 20, R: []float64{
		0.06, 0.06, 0.05, 0.05, 0.05, 0.06, 0.07, 0.09, 0.14, 0.28, 0.47, 0.58, 0.62, 0.64, 0.65, 0.66,
	}}
	lab, err := s.Lab(color.D65Ten())
	fmt.Printf("%.1f %.1f %.1f %v\n", lab.L, lab.A, lab.B, err)

	s.StepNM = 7
	fmt.Println(s.Check())
	// Output:
	// 52.3 43.4 43.0 <nil>
	// bands are 7 nm apart; export the reading at 1, 5, 10 or 20 nm
}

func ExampleParseCondition() {
	c, err := color.ParseCondition("f11/10")
	fmt.Println(c, err)
	_, err = color.ParseCondition("D65")
	fmt.Println(err)
	// Output:
	// FL11/10 <nil>
	// condition "D65" has no observer; write it as D65/10
}

func ExampleWhitePoint() {
	w, err := color.WhitePoint(color.Under(color.C, color.TwoDegree))
	fmt.Printf("%.2f %.2f %.2f %v\n", w.X, w.Y, w.Z, err)
	// Output: 98.07 100.00 118.22 <nil>
}

func ExampleLab_Swatch() {
	s, err := color.Lab{L: 50, A: 70, B: 50, Under: color.D65Ten()}.Swatch()
	fmt.Println(s.Hex(), s.InGamut, err)
	s, err = color.Lab{L: 45, A: -60, B: 30, Under: color.D65Ten()}.Swatch()
	fmt.Println(s.Hex(), s.InGamut, err)
	// Output:
	// #e72525 true <nil>
	// #007f35 false <nil>
}

func ExampleLab_LCh() {
	x := color.Lab{L: 61.2, A: 3, B: 4, Under: color.D65Ten()}.LCh()
	fmt.Printf("%.1f %.1f %.1f\n", x.L, x.C, x.H)
	// Output: 61.2 5.0 53.1
}

func ExampleRepeat() {
	r, err := color.Repeat([]color.Lab{
		{L: 61.2, A: 38.9, B: 21.4, Under: color.D65Ten()},
		{L: 61.3, A: 38.7, B: 21.5, Under: color.D65Ten()},
		{L: 57.9, A: 36.0, B: 19.2, Under: color.D65Ten()}, // on the edge of the part
		{L: 61.2, A: 38.8, B: 21.4, Under: color.D65Ten()},
	})
	fmt.Printf("MCDM %.2f, outlier %d, %v\n", r.MCDM, r.Outlier, err)
	// Output: MCDM 1.20, outlier 2, <nil>
}

func ExampleMetamerismLab() {
	day, lamp := color.D65Ten(), color.Under(color.FL11, color.TenDegree)
	mi, err := color.MetamerismLab(
		color.Lab{L: 64.6, A: 18.3, B: 20.1, Under: day}, color.Lab{L: 64.9, A: 18.6, B: 20.3, Under: day},
		color.Lab{L: 63.3, A: 17.0, B: 19.9, Under: lamp}, color.Lab{L: 65.2, A: 14.0, B: 23.2, Under: lamp},
		color.CIEDE2000)
	fmt.Printf("%.1f %v\n", mi, err)
	// Output: 4.0 <nil>
}

func ExampleMetamerismSpectral() {
	std, sample := color.Constant(0.4), color.Constant(0.4)
	sample[10], sample[15], sample[20] = 0.45, 0.36, 0.42
	mi, err := color.MetamerismSpectral(&std, &sample, color.D65Ten(), color.Under(color.FL11, color.TenDegree), color.CIEDE2000)
	fmt.Printf("%.2f %v\n", mi, err)
	// Output: 2.23 <nil>
}

func ExampleMetric00() {
	m := color.Metric00([3]float64{50, 0, 0})
	fmt.Printf("%.2f %.2f %.2f\n", m[0][0], m[1][1], m[2][2])
	// Output: 1.00 2.25 1.00
}

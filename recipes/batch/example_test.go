package batch_test

import (
	"fmt"
	"math"
	"time"

	"masstone/recipes/batch"
)

// An invented urethane and recipe: 12 housings of 18.5 ml with 10 % waste.
func ExamplePlan() {
	mix, _ := batch.ParseRatio("100:90")
	s, err := batch.Plan(batch.Request{
		Recipe: map[string]batch.PHR{"WH": 1.02, "RD": 0.21, "BK": 0.012},
		Resin: batch.Resin{Mix: mix, DensityA: batch.GramsPerML(1.05), DensityB: batch.GramsPerML(1.00),
			PotLife: 7 * time.Minute, PigmentSide: batch.SideB, MaxPHR: 4},
		Order:    batch.Order{Cavity: batch.Millilitres(18.5), Shots: 12, Waste: 0.10},
		Scale:    batch.Scale{Step: batch.Grams(0.01)},
		Handling: batch.UsualHandling(),
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range s.Lines {
		fmt.Printf("%-8s %7s %7s\n", l.Item, l.Grams.At(s.Step), l.Cumulative.At(s.Step))
	}
	for _, p := range s.Predilutions {
		fmt.Println(p.Words(s.Step))
	}
	for _, c := range s.Cups {
		fmt.Printf("cup %d: %d shots, %v, container %v, %.1f min\n", c.Number, c.Shots, c.Total, c.Container, c.Minutes)
	}
	// Output:
	// B         116.89  116.89
	// BK 1:10     0.33  117.22
	// RD          0.52  117.74
	// WH          2.52  120.26
	// A         130.22  250.48
	// Stir 0.30 g BK into 3.00 g of side B until even; weigh 0.33 g of it, 2.97 g is left over.
	// cup 1: 3 shots, 62.63 g, container 244.2 ml, 5.2 min
	// cup 2: 3 shots, 62.61 g, container 244.2 ml, 5.2 min
	// cup 3: 3 shots, 62.63 g, container 244.2 ml, 5.2 min
	// cup 4: 3 shots, 62.61 g, container 244.2 ml, 5.2 min
}

// An invented colour: the ratio of red to white decides, and the scale blurs.
func judge(m batch.Mixture) (float64, error) {
	off := float64(m.Loadings["RD"]/m.Loadings["WH"])/0.2 - 1
	blur := float64(m.Weighing["RD"] / m.Loadings["RD"])
	return math.Sqrt(0.09 + 225*(off*off+blur*blur)), nil
}

func invented() batch.Request {
	return batch.Request{
		Recipe: map[string]batch.PHR{"WH": 1, "RD": 0.2},
		Resin:  batch.Resin{Mix: batch.Ratio{A: 1, B: 1}, PigmentSide: batch.SideB, PotLife: 10 * time.Minute},
		Order:  batch.Order{Total: batch.Grams(120)}, Scale: batch.Scale{Step: batch.Grams(0.01)},
		Handling: batch.UsualHandling(), Outcome: judge, Tolerance: 0.5, Dilution: batch.DiluteNever,
	}
}

func ExamplePlan_onTheGrid() {
	s, err := batch.Plan(invented())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("RD %v, WH %v\n", s.Lines[1].Grams, s.Lines[2].Grams)
	fmt.Printf("ideal %.2f, rounded %.2f, this sheet %.2f\n", s.Expected.Ideal, s.Expected.Rounded, s.Expected.Sheet)
	// Output:
	// RD 0.24 g, WH 1.2 g
	// ideal 0.30, rounded 0.41, this sheet 0.39
}

func ExampleSmallest() {
	s, err := batch.Smallest(invented())
	fmt.Println(s.Neat.Found, s.Neat.Total, err)
	// Output: true 79.06 g <nil>
}

func ExampleOvershoot() {
	r := invented()
	s, err := batch.Plan(r)
	if err != nil {
		fmt.Println(err)
		return
	}
	out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.30)})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, x := range out.Remedies {
		fmt.Printf("%s: expected %.2f, %v more material\n", x.Way, *x.Expected, x.Extra)
	}
	// Output:
	// as planned: expected 3.77, 0.06 g more material
	// same resin: expected 0.36, 0.36 g more material
	// grow in proportion: expected 0.36, 30 g more material
}

func ExampleCautions() {
	fmt.Println(batch.Cautions()[0])
	// Output: Follow the safety data sheet of every product, local rules, and licensed practice where it is required; where this sheet differs, they win.
}

func ExampleParseWaste() {
	fmt.Println(batch.ParseWaste("10%"))
	_, err := batch.ParseWaste("10")
	fmt.Println(err)
	// Output:
	// 0.1 <nil>
	// batch: waste "10" could be a share or per cent: write 10% or a share below 1
}

package calibrate_test

import (
	"fmt"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"testing"
)

func TestZZ(t *testing.T) {
	for _, s := range []*virtualshop.Shop{virtualshop.Painted(1, 12), virtualshop.Painted(3, 12).InOpaqueResin(), virtualshop.Radiative(1, 12)} {
		fmt.Println(s.Name, s.Level, s.Light, s.Noise)
		for _, c := range s.Study(virtualshop.Thin) {
			l := s.Color(c.Loadings, s.Setting, color.D65Ten())
			fmt.Printf("%-9s %6.2f %6.2f %6.2f\n", c.Name, l.L, l.A, l.B)
		}
	}
}

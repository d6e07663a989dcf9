//go:build study

package calibrate_test

import (
	"testing"

	"masstone/calibrate/virtualshop"
)

// TestStudyCarry: a new resin from four castings or six and the calibration
// of another, against a full set of the same pastes, and what is claimed of pastes
// that no chip of the new resin holds.
func TestStudyCarry(t *testing.T) {
	for i := range 2 * len(virtualshop.Evidences()) {
		e, castings := virtualshop.Evidences()[i/2], 4+i%2*2
		sum := map[string]float64{}
		n := 0.0
		var out []trial
		for world := uint64(1); world <= 6; world++ {
			s := virtualshop.Painted(world, 6)
			if world > 4 {
				s = virtualshop.Radiative(world, 6)
			}
			r := carry(t, s, world, e, castings, 100)
			out = append(out, r.carried, r.full, r.alone, r.rest)
			for name, of := range map[string]trial{"carried": r.carried, "full": r.full, "alone": r.alone, "rest": r.rest} {
				sum[name] += of.mean
				sum[name+" inside"] += of.channels
				sum[name+" expected"] += of.expected
			}
			n++
		}
		t.Log(table("carried; full set; the few alone; pastes that no chip holds too", out))
		for _, name := range []string{"carried", "full", "alone", "rest"} {
			t.Logf("%s, %d castings, %s: mean %.3f (claimed %.3f), inside %.1f %%", e, castings, name, sum[name]/n, sum[name+" expected"]/n, 100*sum[name+" inside"]/n)
		}
	}
}

//go:build study

package calibrate_test

import (
	"fmt"
	"testing"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// Studies print what the short tests hold for one shop on several. Nothing is
// asked of them but to run: go test -tags study -run Study -timeout 2h -v.

var studySeeds = []uint64{1, 2, 3, 4}

func TestStudyPainted(t *testing.T) {
	for _, seed := range studySeeds {
		s := virtualshop.Painted(seed, 12)
		t.Run(s.Name, func(t *testing.T) {
			t.Log(table(s.Name, study(t, s, seed, virtualshop.Plans(), virtualshop.Evidences(), calibrate.Options{Layer: calibrate.KubelkaMunk})))
		})
	}
}

func TestStudyOpaqueResin(t *testing.T) {
	for _, seed := range studySeeds {
		s := virtualshop.Painted(seed, 12).InOpaqueResin()
		t.Run(s.Name, func(t *testing.T) {
			t.Log(table(s.Name, study(t, s, seed, virtualshop.Plans(), virtualshop.Evidences(), calibrate.Options{Layer: calibrate.KubelkaMunk})))
		})
	}
}

func TestStudyRadiative(t *testing.T) {
	for _, seed := range studySeeds {
		s := virtualshop.Radiative(seed, 12)
		t.Run(s.Name, func(t *testing.T) {
			t.Log(table(s.Name, study(t, s, seed, virtualshop.Plans(), virtualshop.Evidences(),
				calibrate.Options{Layer: calibrate.KubelkaMunk}, calibrate.Options{Layer: calibrate.ExactLayer}, calibrate.Options{})))
		})
	}
}

// Pastes that are not equally strong in every pour: what no calibration removes
// the bars have to own up to.
func TestStudyStrengthScatter(t *testing.T) {
	for _, sd := range []float64{0.02, 0.05} {
		for _, s := range []*virtualshop.Shop{virtualshop.Painted(1, 12), virtualshop.Radiative(1, 12)} {
			s.StrengthSD = sd
			t.Run(fmt.Sprint(s.Name, sd), func(t *testing.T) {
				t.Log(table(fmt.Sprintf("%s, strengths scatter by %g", s.Name, sd), study(t, s, 1, []virtualshop.Plan{virtualshop.Thin}, virtualshop.Evidences(), calibrate.Options{})))
			})
		}
	}
}

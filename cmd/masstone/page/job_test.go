package page_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"masstone/cmd/masstone/demo"
	"masstone/recipes/workbench"
)

// TestJob is the whole job in a browser, by clicks and typing alone: from an empty
// bench to an approved recipe and its reorder, with a refused file, an overshoot
// and a correction on the way. The shop is the demonstration's, invented.
func TestJob(t *testing.T) {
	b := emptyBench(t)
	p := browse(t, served(t, b))
	p.open("/")
	p.sees("An empty bench")
	p.looks("today-empty")

	// the shelf
	p.follow("Shelf")
	p.fill("/shelf/resin", "code", "CLR", "mix", "100:90", "pot-life", "7m", "density-a", "1.05", "density-b", "1.00", "max-phr", "4,5")
	p.send("/shelf/resin")
	p.sees("“Most paste in all” has a comma") // refused, with what was typed
	p.looks("refused")
	p.fill("/shelf/resin", "max-phr", "4")
	p.send("/shelf/resin")
	p.fill("/shelf/pigments", "file", shopFile(t, "pigments.csv"))
	p.send("/shelf/pigments")
	p.sees("kelp green", "100:90")
	p.looks("shelf")

	// which chips to cast
	p.follow("Plan")
	p.looks("plan")
	p.send("/plan/start")
	p.sees("Plan (PDF)")
	p.looks("planned")

	// a file that is no table of readings is refused
	p.follow("Chips")
	p.follow("Take in an instrument's file")
	p.looks("file-chosen")
	p.fill("/file", "file", shopFile(t, "pigments.csv"))
	p.send("/file")
	p.sees("A file of pigments")
	// and one of chips is looked at, then stored
	p.follow("Chips")
	p.follow("Take in an instrument's file")
	p.fill("/file", "file", shopFile(t, "chips.csv"))
	p.send("/file")
	p.sees("A file of chips", "Would be stored in CLR")
	p.looks("file")
	p.press(`form[action$="/chips"] .do button`)
	p.sees("WH-2")
	p.looks("chips")

	// a chip read once more
	p.follow("WH-2")
	p.looks("chip")
	p.fill("/readings/look", "lab", "96.47,-1.79,2.75")
	p.send("/readings/look")
	p.sees("Mean of 1 reading")
	p.looks("readings")

	// the fit
	p.follow("Calibration")
	p.fill("/fit", "layer", "exact")
	p.press(`form[action="/fit"] .do button`)
	p.until(`location.pathname === "/calibration" && document.readyState === "complete"`)
	p.sees("CLR v1", "inside their 95 % region")
	p.until(`(() => { const all = [...document.images]; for (const i of all) i.loading = "eager"; return all.length === 3 && all.every(i => i.complete && i.naturalWidth > 0) })()`)
	p.looks("calibration")

	// a target, typed
	p.follow("Targets")
	p.fill("/target", "name", "Harbour lamp / housing", "client", "Tern Lighting", "file", shopFile(t, "lamp.csv"))
	p.send("/target")
	p.sees("66.4", "Tern Lighting")
	p.looks("target")
	p.follow("Targets")
	p.looks("targets")

	// the match
	p.follow("Harbour lamp / housing")
	p.follow("Match")
	p.looks("matching")
	p.send("/match")
	p.sees("chance within tolerance", "R1")
	p.looks("match")
	p.do(chromedp.EmulateViewport(1000, 960))
	p.picture("readme") // that of the README, testdata/match.png
	p.follow("Try it with sliders")
	p.sees("Beside Harbour lamp")
	p.looks("mix")
	before := ask[string](p, `document.getElementById("n-WH").value`)
	p.do(chromedp.Focus("#s-WH"), chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	p.until(`document.getElementById("mixed").dataset.ms !== undefined`)
	t.Logf("a slider answered in %s ms", ask[string](p, `document.getElementById("mixed").dataset.ms`))
	after := ask[string](p, `document.getElementById("n-WH").value`)
	require.NotEqual(t, before, after)
	require.Equal(t, after, ask[string](p, `document.getElementById("s-WH").value`))

	// the batch, with a line that came out more than planned
	p.follow("Archive")
	p.press(`.wall a[href="/recipe/R1"]`)
	p.looks("recipe")
	p.fill("/batch", "grams", "250")
	p.send("/batch")
	p.looks("batch")
	over := false
	for range 30 {
		main := p.text("main")
		switch {
		case strings.Contains(main, "All is in"):
		case strings.Contains(main, "More went in than planned"):
			p.looks("overshoot")
			p.press(`.best a.button`)
			over = true
			continue
		case strings.Contains(main, "goes in now"):
			p.press(".weigh form:nth-of-type(1) button")
			p.looks("clock")
			continue
		case !over && !strings.Contains(p.text(".weigh .item"), "B"):
			p.keys("#shown", fmt.Sprintf("%.2f", 1.5*p.planned()))
			p.press(`.weigh form:has(#shown) button`)
			continue
		default:
			p.press(".weigh button.main")
			continue
		}
		break
	}
	require.True(t, over, "an overshoot was typed")
	p.sees("All is in")
	p.looks("all-in")
	p.send("/pour")
	p.sees("Not read yet")
	pour, err := workbench.ShowPour(t.Context(), b, "P1")
	require.NoError(t, err)

	// what the instrument shows of the part; the lot of kelp green is stronger
	shop, err := demo.NewBench(2207)
	require.NoError(t, err)
	read := func(pour workbench.Pour) string {
		mix := map[string]float64{}
		for code, v := range pour.Loadings {
			mix[code] = float64(v)
		}
		_, lab := shop.Read(demo.Stronger(mix, "FG", 0.5), 3, 0.90)
		return fmt.Sprintf("%.2f,%.2f,%.2f", lab.L, lab.A, lab.B)
	}
	p.looks("pour-unread")
	p.follow("B1")
	p.follow("Sheet as a page")
	p.looks("sheet")
	p.do(chromedp.NavigateBack(), chromedp.NavigateBack())
	p.sees("Not read yet")
	p.fill("/pour/P1/read", "lab", read(pour.Pour), "illuminant", "D65/10")
	p.send("/pour/P1/read")
	p.sees("CIEDE2000")
	p.looks("pour")
	p.fill("/correct", "pot-grams", "100")
	p.send("/correct")
	p.sees("Best:")
	p.looks("correction")

	// approved, found again and cast again
	p.follow("P1")
	p.fill("/approve", "by", "J. Brandt, Tern Lighting")
	p.send("/approve")
	p.sees("J. Brandt", "checksum")
	p.looks("approval")
	p.fill("/reorder", "grams", "500")
	p.send("/reorder")
	p.sees("Weigh B")
	p.looks("reorder")
	p.follow("Archive")
	p.fill("/archive", "lab", "70,-9,-4", "illuminant", "D65")
	p.send("/archive")
	p.sees("R1", "approved v1")
	p.looks("archive")
	for _, name := range []string{"Today", "Pours", "Log"} {
		p.follow(name)
		p.looks("page-" + strings.ToLower(name))
	}
	p.open("/nowhere")
	p.looks("page-nowhere")
	p.sees("Nothing is here")
	checked, err := workbench.Verify(t.Context(), b, workbench.VerifyRequest{})
	require.NoError(t, err)
	require.Empty(t, checked.Problems)
}

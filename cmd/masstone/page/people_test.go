package page_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

// TestTwoAtOnce: two browsers and a terminal at one bench. What others store is
// told without a reload, at once where nobody types, and a form that was read
// before is not stored over it.
func TestTwoAtOnce(t *testing.T) {
	b := workedBench(t)
	p := browse(t, served(t, b))
	q := p.another()

	// a page that is looked at shows what a terminal stores
	p.open("/shelf")
	terminal := b.With(workbench.Options{Who: "cy", Program: "terminal"})
	_, err := workbench.AddResin(t.Context(), terminal, workbench.AddResinRequest{Code: "GLD", Name: "gilt <i>", Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: "B"})
	require.NoError(t, err)
	p.until(`document.querySelector("main").innerText.includes("gilt <i>") && document.getElementById("news").innerText.includes("cy")`)
	p.looks("told")

	// a form that somebody types in stays, and says so
	p.open("/resin?code=CLR")
	p.fill("/shelf/resin", "note", "mine")
	q.open("/resin?code=CLR")
	q.fill("/shelf/resin", "max-phr", "5")
	q.send("/shelf/resin")
	p.until(`document.querySelector("#news a") !== null`)
	require.Equal(t, "mine", ask[string](p, `document.querySelector('[name="note"]').value`))
	p.send("/shelf/resin")
	p.sees("was changed by ada", "on the bench now: 5", "all the same")
	p.looks("conflict")
	p.send("/shelf/resin")
	p.sees("CLR")
	resin, err := workbench.ShowResin(t.Context(), b, "CLR")
	require.NoError(t, err)
	require.Equal(t, "mine", resin.Note)
	require.EqualValues(t, calibrate.PHR(4), *resin.MaxPHR, "what was typed, meant all the same")

	// a double tap does a thing once
	p.open("/recipe/R1")
	before := logged(t, b)
	p.fill("/batch", "grams", "123")
	ask[bool](p, `(() => { const f = document.querySelector('form[action="/batch"]'); window.before = true; f.requestSubmit(); f.requestSubmit(); return true })()`)
	p.until(`window.before !== true && location.pathname === "/batch/B2"`)
	require.Equal(t, before+1, logged(t, b))
}

// TestKeyboard does a part of the job with the keyboard alone.
func TestKeyboard(t *testing.T) {
	p := browse(t, served(t, workedBench(t)))
	p.open("/recipe/R1")
	p.do(chromedp.KeyEvent("\t"))
	require.Equal(t, "To the page", ask[string](p, `document.activeElement.innerText`), "the first stop leads past the menu")
	p.do(chromedp.KeyEvent("\r"))
	p.until(`location.hash === "#main"`)
	p.tab(`document.activeElement.name === "grams"`)
	p.do(chromedp.KeyEvent("300"))
	p.enter("\r")
	p.sees("the scale goes to")
	p.tab(`document.activeElement.innerText === "It is in as planned"`)
	p.enter("\r")
	p.tab(`document.activeElement.id === "shown"`)
	p.do(chromedp.KeyEvent("0,8"))
	p.enter("\r")
	p.sees("has a comma")
	p.open("/archive")
	p.tab(`document.activeElement.name === "words"`)
	p.do(chromedp.KeyEvent("harbour"))
	p.tab(`document.activeElement.name === "approved"`)
	p.do(chromedp.KeyEvent(" "))
	p.enter("\r")
	p.sees("1 recipe", "approved v1")
	p.tab(`document.activeElement.tagName === "SUMMARY"`)
	p.do(chromedp.KeyEvent("\r"))
	p.until(`document.querySelector("details").open`)
}

// TestLaterPages looks at the pages of runs, jars, kept plans and clients in a
// browser, with scripts and without.
func TestLaterPages(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	_, err := workbench.AddMould(t.Context(), b, workbench.AddMouldRequest{Name: "M <1>", Cavities: 3})
	require.NoError(t, err)
	v.open("/runs").send("/runs", "parts", "30")
	driftingRun(t, v)
	v.open("/plan").send("/plan/next", "count", "2")
	v.ends()
	plan := v.at.Path
	v.open(link("/approval", "target", lamp, "client", client)).send("/approval/link", "for", "J. Brandt, Tern Lighting")
	toClient := strings.TrimPrefix(attr(find(v.page, byID("address")), "value"), v.site.URL)

	p := browse(t, served(t, b))
	p.open("/runs")
	p.looks("runs")
	p.open("/run/RUN1")
	p.until(`(() => { const all = [...document.images]; return all.length === 1 && all.every(i => i.complete && i.naturalWidth > 0) })()`)
	p.looks("run")
	p.open("/jars")
	p.looks("jars-empty")
	p.fill("/jars", "paste-g", "0.31", "side-g", "15.02")
	p.send("/jars")
	p.sees("15.33 g left")
	p.looks("jar")
	for path, name := range map[string]string{"/jars": "jars", "/plan": "plans", plan: "kept-plan", "/": "today", "/links": "links", "/shelf": "shelf-full", toClient: "client", "/client/guess": "client-guess"} {
		p.open(path)
		p.looks(name)
	}
	p.open(link("/approval", "target", lamp, "client", client))
	p.fill("/approval/link", "for", "J. Brandt")
	p.send("/approval/link")
	p.looks("link")

	_, err = chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	p.open("/run/RUN1")
	p.fill("/run/RUN1/pour", "batch", "B1", "parts", "3")
	p.send("/run/RUN1/pour")
	p.sees("27 of 30 parts cast")
	p.open("/links")
	p.press(`form[action="/links/close"] button`)
	p.sees("closed")
}

// tab goes on with the key for it until a place is reached, which must be seen.
func (p *person) tab(there string) {
	p.t.Helper()
	for range 60 {
		p.do(chromedp.KeyEvent("\t"))
		if ask[bool](p, there) {
			require.NotEqual(p.t, "none", ask[string](p, `getComputedStyle(document.activeElement).outlineStyle`), "where the keyboard is must be seen")
			return
		}
	}
	p.t.Fatalf("the keyboard does not lead where %s, at %s", there, p.where())
}

// enter presses a key that leads to another page.
func (p *person) enter(key string) {
	p.t.Helper()
	ask[bool](p, `window.before = true`)
	p.do(chromedp.KeyEvent(key))
	p.until("window.before !== true && document.readyState === 'complete'")
}

// TestScriptsOff: where the browser runs no script, a batch is weighed with a slip
// of the scale, poured, read and corrected all the same.
func TestScriptsOff(t *testing.T) {
	p := browse(t, served(t, workedBench(t)))
	_, err := chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	p.open(link("/mix", "resin", "CLR", "target", lamp, "client", client, "phr.WH", "2", "phr.FG", "0.4"))
	p.sees("dE00 from the target")
	p.open("/recipe/R1")
	p.fill("/batch", "grams", "200")
	p.send("/batch")
	for range 20 {
		main := p.text("main")
		if strings.Contains(main, "All is in") {
			break
		}
		if strings.Contains(main, "More went in than planned") {
			p.press(".best a.button")
			continue
		}
		if p.text(".weigh .item") == "WH" && !strings.Contains(p.where(), "s.WH") {
			p.keys("#shown", fmt.Sprintf("%.2f", 0.1+p.planned()))
			p.press(`.weigh form:has(#shown) button`)
			continue
		}
		p.press(`.weigh form:not(:has(#shown)):not(:has([name=t][value=now])) button.main`)
	}
	p.send("/pour")
	p.sees("Not read yet")
	p.fill("/pour/P2/read", "lab", "64.9,-12.2,-2.2", "illuminant", "D65/10")
	p.send("/pour/P2/read")
	p.sees("Outside tolerance")
	p.fill("/correct", "pot-grams", "80")
	p.send("/correct")
	p.sees("Best:")
}

// planned is what goes in of the line at the scale.
func (p *person) planned() (grams float64) {
	_, err := fmt.Sscan(ask[string](p, `document.querySelector('.weigh input[type=hidden][name^="a."]').value`), &grams)
	require.NoError(p.t, err)
	return grams
}

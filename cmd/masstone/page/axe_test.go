package page_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// axeVersion is that of axe-core, the rules of Deque Systems for WCAG 2.2 and good
// practice, which npm fetches into its cache; it is no part of the program.
const axeVersion = "4.14.1"

// axe is the script with the rules, or why there is none.
var axe = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "axe-core-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	pack := func(how string) ([]byte, error) {
		wait, end := context.WithTimeout(context.Background(), time.Minute) // after which pages are looked at without
		defer end()
		fetch := exec.CommandContext(wait, "npm", "pack", "axe-core@"+axeVersion, "--silent", "--fetch-retries=0", how)
		fetch.Dir, fetch.WaitDelay = dir, time.Second
		return fetch.CombinedOutput()
	}
	if _, err := pack("--offline"); err != nil { // it is not in the cache yet
		if out, err := pack("--prefer-offline"); err != nil {
			return "", fmt.Errorf("npm does not bring axe-core: %w %.300s", err, out)
		}
	}
	script, err := exec.Command("tar", "-xzOf", filepath.Join(dir, "axe-core-"+axeVersion+".tgz"), "package/axe.min.js").Output()
	return string(script), err
})

// TestAxe says where the rules are missing: pages are looked at without them then.
func TestAxe(t *testing.T) {
	if testing.Short() {
		t.Skip("asks the network")
	}
	script, err := axe()
	if err != nil {
		t.Skip(err)
	}
	assert.Contains(t, script, "axe v"+axeVersion)
}

// obeys fails where the page as it stands breaks a rule of axe-core; that for the size
// of targets is off unless it is asked for. Of the rows of a table or a list, which one
// line of a template makes, it looks at three.
func (p *person) obeys(name string) {
	p.t.Helper()
	script, err := axe()
	if err != nil || ask[bool](p, `origin === "null"`) { // a paper, in which no script runs to its end
		return
	}
	if !ask[bool](p, `typeof axe === "object"`) {
		ask[bool](p, script+"\ntrue")
	}
	wrong, err := chromedp.Run(p.ctx, chromedp.Evaluate[[]string](`axe.run({exclude: [["tbody tr:nth-child(n+4)"], ["li:nth-child(n+4)"]]}, {resultTypes: ["violations"], preload: false, rules: {"target-size": {enabled: true}}}).then(
		found => found.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.html.slice(0, 160) + " " + n.failureSummary.replace(/\s+/g, " "))))`, chromedp.EvalAwaitPromise))
	require.NoError(p.t, err, name)
	assert.Empty(p.t, wrong, name)
}

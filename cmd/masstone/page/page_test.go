package page_test

import (
	"bufio"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"masstone/cmd/masstone/page"
	"masstone/recipes/workbench"
)

// TestEveryPage follows every link of every page of a bench on which the job was
// done, and of an empty one: all of them are there, and none asks the network for
// anything.
func TestEveryPage(t *testing.T) {
	for name, c := range map[string]struct {
		bench func(testing.TB) *workbench.Bench
		least int // pages
	}{"worked": {workedBench, 60}, "empty": {emptyBench, 12}} {
		t.Run(name, func(t *testing.T) {
			v := visit(t, c.bench(t), nil)
			seen := map[string]bool{}
			todo := []string{"/", "/nowhere"}
			for len(todo) > 0 {
				path := todo[0]
				todo = todo[1:]
				if seen[path] {
					continue
				}
				seen[path] = true
				v.open(path)
				want := http.StatusOK
				if path == "/nowhere" {
					want = http.StatusNotFound
				}
				require.Equal(t, want, v.status, "%s: %s", path, v.text())
				if !strings.HasPrefix(v.raw, "%PDF-") {
					require.NotContains(t, v.raw, "%!", path) // a verb of fmt gone wrong
				}
				for _, to := range v.links() {
					if strings.HasPrefix(to, "data:") { // within the page itself
						continue
					}
					require.True(t, strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "//"), "%s leads to %s", path, to)
					to, _, _ = strings.Cut(to, "#")
					todo = append(todo, to)
				}
			}
			require.GreaterOrEqual(t, len(seen), c.least)
		})
	}
}

// TestWrongUse: what cannot be is told in one line with what to do, what was typed
// stays in the form, and nothing is stored.
func TestWrongUse(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	before := logged(t, b)
	for _, c := range []struct {
		page, form string
		fill       []string
		status     int
		says       string
	}{
		{"/shelf", "/shelf/resin", []string{"code", "NEW", "mix", "100:90", "max-phr", "4,5"}, 422, "decimal point"},
		{"/shelf", "/shelf/resin", []string{"code", "NEW", "mix", "100"}, 422, "100:90"},
		{"/shelf", "/shelf/resin", []string{"code", "CLR", "mix", "100:80"}, 409, "Replace what is there"},
		{"/shelf", "/shelf/resin", []string{"code", "NEW", "mix", "100:90", "pot-life", "1e300"}, 422, "“Pot life”"},
		{"/shelf", "/shelf/resin", []string{"mix", "100:90"}, 422, "code"},
		{"/shelf", "/shelf/pigment", []string{"code", "ZZ", "density", "1,3"}, 422, "decimal point"},
		{"/shelf", "/shelf/pigment", []string{"code", "ZZ", "density", "-4"}, 422, "“Density” does not do: density -4 is impossible"},
		{"/shelf", "/shelf/pigment", []string{"name", "no code"}, 422, "“Code”"},
		{"/shelf", "/shelf/pigments", nil, 422, "choose a file"},
		{"/shelf", "/shelf/pigments", []string{"file", shopFile(t, "chips.csv")}, 422, "pigment"},
		{"/shelf", "/shelf/backing", []string{"name", "grey", "reflectance", "1e300"}, 422, "“Reflectance factor”"},
		{"/shelf", "/shelf/lot", []string{"code", "FC", "lot", "K-1"}, 404, "FC"},
		{"/shelf", "/shelf/scale", []string{"name", "new"}, 422, "smallest change it shows"},
		{"/shelf", "/shelf/scale", []string{"step", "0.01"}, 422, "name"},
		{"/shelf", "/shelf/scale", []string{"name", "new", "step", "0,01"}, 422, "decimal point"},
		{"/shelf", "/shelf/scale", []string{"name", "new", "step", "1e300"}, 422, "“Smallest change it shows”"},
		{"/shelf", "/shelf/instrument", []string{"name", "new", "illuminant", "Q7"}, 422, "“Light and observer”"},
		{"/shelf", "/shelf/instrument", []string{"name", "new", "m-condition", "M9"}, 422, "M9"},
		{"/shelf", "/shelf/instrument", []string{"name", "o'Hara", "aperture-mm", "8,0"}, 422, "decimal point"},
		{"/plan", "/plan/start", []string{"per-colour", "99"}, 422, "1 to 4"},
		{"/plan", "/plan/next", []string{"count", "-3"}, 422, "“How many”"},
		{"/chips?resin=CLR", "/readings/look", []string{"name", "new", "phr.WH", "1", "lab", "70"}, 422, "70"},
		{"/chips?resin=CLR", "/readings/look", []string{"name", "new", "phr.WH", "1e300", "lab", "70,1,2"}, 422, "“WH”"},
		{"/chips?resin=CLR", "/readings/look", []string{"name", "new", "phr.WH", "x", "lab", "70,1,2"}, 422, "“WH”"},
		{"/chips?resin=CLR", "/readings/look", []string{"name", "new", "phr.WH", "1", "lab", "70,1,2", "illuminant", "Q7"}, 422, "“Light and observer”"},
		{"/file", "/file", nil, 422, "choose a file"},
		{"/targets", "/target", []string{"name", lamp, "client", client, "lab", "60,1,2"}, 409, "Replace what is there"},
		{"/targets", "/target", []string{"name", "new", "lab", "60,1,2", "tolerance", "0"}, 422, "“Tolerance”"},
		{"/targets", "/target", []string{"name", "new", "lab", "60,1,2", "limits", "L=0.8,q=1"}, 422, "“Limits per axis”"},
		{"/targets", "/target", []string{"name", "new"}, 422, "reading"},
		{link("/match", "target", lamp, "client", client), "/match", []string{"max-pigments", "99"}, 422, "“Most pigments in a recipe”"},
		{link("/match", "target", lamp, "client", client), "/match", []string{"require", "QQ"}, 404, "QQ"},
		{link("/match", "target", lamp, "client", client), "/match", []string{"grams", "1e300"}, 422, "“Batch to weigh”"},
		{"/recipe/R1", "/batch", []string{"grams", "0"}, 422, "“Whole batch”"},
		{"/recipe/R1", "/batch", nil, 422, "“Whole batch”"},
		{"/recipe/R1", "/batch", []string{"grams", "250", "scale", "0,01"}, 422, "decimal point"},
		{"/recipe/R1", "/batch", []string{"cavity-ml", "18", "shots", "1.5"}, 422, "“Parts”"},
		{"/pour/P1", "/pour/P1/read", []string{"lab", "66,3,-10,3,-2,5"}, 422, "66,3"},
		{"/pour/P1", "/pour/P1/read", []string{"lab", "66.3,-10.3,-2.5", "age", "soon"}, 422, "“Age of the part”"},
		{"/pour/P1", "/pour/P1/read", []string{"lab", "66.3,-10.3,-2.5", "aperture-mm", "wide"}, 422, "“Aperture"},
		{"/pour/P1", "/pour/P1/read", []string{"lab", "66.3,-10.3,-2.5", "thickness-sd-mm", "2"}, 422, "“How far"},
		{"/pour/P1", "/correct", []string{"pot-grams", "-1"}, 422, "“Left in the pot”"},
		{"/mix?resin=CLR", "/recipe", []string{"phr", "WH"}, 422, "CODE=AMOUNT"},
		{"/mix?resin=CLR", "/recipe", []string{"phr", "WH=1,ZZ=2"}, 404, "ZZ"},
		{"/runs", "/runs", nil, 422, "how many parts"},
		{"/runs", "/runs", []string{"parts", "3,5"}, 422, "“Parts wanted”"},
		{"/runs", "/runs", []string{"parts", "1e300"}, 422, "“Parts wanted”"},
		{"/runs", "/runs", []string{"parts", "30", "risk", "0.7"}, 422, "wrong about a part"},
		{"/runs", "/runs", []string{"parts", "30", "date", "soon"}, 422, "soon"},
		{"/jars", "/jars", nil, 422, "“Paste”"},
		{"/jars", "/jars", []string{"paste-g", "0,3", "side-g", "15"}, 422, "decimal point"},
		{"/jars", "/jars", []string{"paste-g", "1e300", "side-g", "15"}, 422, "“Paste”"},
		{"/jars", "/jars", []string{"paste-g", "0.3", "side-g", "15", "lot", "o'Hara"}, 404, "o'Hara"},
		{"/jars", "/jars", []string{"paste-g", "0.3", "side-g", "15", "date", "2199-01-01"}, 422, "lies ahead"},
		{link("/approval", "target", lamp, "client", client), "/reorder", []string{"grams", "1e300"}, 422, "“Whole batch”"},
	} {
		v.open(c.page).send(c.form, c.fill...)
		lines := v.wrongs() // of a file one for each cause
		if !assert.NotEmpty(t, lines, "%s %v: %s", c.form, c.fill, v.text()) {
			continue
		}
		assert.True(t, len(lines) == 1 || c.form == "/shelf/pigments", "%s %v: %q", c.form, c.fill, lines)
		assert.Contains(t, lines[0], c.says, "%s %v", c.form, c.fill)
		assert.Equal(t, c.status, v.status, "%s %v: %v", c.form, c.fill, lines)
		assert.NotContains(t, lines[0], "--", "a flag is no word of a page: %s %v", c.form, c.fill)
		_, again, _ := v.filled(c.form)
		for i := 0; i < len(c.fill); i += 2 {
			if c.fill[i] != "file" {
				assert.Contains(t, again[c.fill[i]], c.fill[i+1], "%s: what was typed stays", c.form)
			}
		}
	}
	for path, want := range map[string]int{
		"/recipe/R99": 404, "/recipe/x": 404, "/batch/B99": 404, "/pour/P99": 404, "/chip?resin=CLR&name=nobody": 404, "/target?name=nobody": 404, "/approval?target=nobody": 404,
		"/match?target=nobody": 404, "/calibration?resin=CLR&version=99": 404, "/calibration?resin=QQ": 404, "/open?what=nothing": 404, "/archive?lab=1": 200, "/mix?resin=CLR&phr.WH=1,5": 200,
		"/mix/color?resin=CLR&phr.WH=99": 200, "/batch/B1?s.WH=x": 200, "/plan/none": 410, "/plan/PL99": 404, "/plan/PLx": 404, "/run/RUN99": 404, "/run/x": 404, "/run/RUN99/chart.svg": 404, "/run/RUN99/certificate/paper.pdf": 404, "/jar?name=nobody": 404, "/jar": 404, "/file/none": 410, "/readings/none": 410, "/work/none": 410, "/match/none": 410, "/calibration/CLR/x/curves.svg": 404, "/calibration/CLR/1x/curves.svg": 404,
		"/calibration/CLR/1/none.svg": 404, "/batch/B99/paper.pdf": 404, "/asset/../page.go": 404,
	} {
		v.open(path)
		assert.Equal(t, want, v.status, "%s: %s", path, v.text())
		assert.NotContains(t, v.raw, "goroutine", path)
	}
	assert.Equal(t, before, logged(t, b), "nothing was stored")
}

// logged is how many lines the log has.
func logged(t testing.TB, b *workbench.Bench) int {
	log, err := workbench.Log(t.Context(), b, workbench.LogRequest{})
	require.NoError(t, err)
	return len(log.Log)
}

// TestNames: names with marks of HTML, quotes and marks of direction stay text on
// every page they stand on.
func TestNames(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	name, of := `"><script>alert(1)</script> 'lamp' & co`, "\u202eevil\u2066 <b>x</b>"
	v.open("/targets").send("/target", "name", name, "client", of, "lab", "60,-5,2", "note", "</section><img src=x>").sees("60.00")
	for _, path := range []string{"/", "/targets", link("/target", "name", name, "client", of), link("/match", "target", name, "client", of), link("/mix", "resin", "CLR", "target", name, "client", of), "/log"} {
		v.open(path).sees("<script>alert(1)</script>")
		require.Equal(t, 200, v.status, path)
		require.NotContains(t, v.raw, "<script>alert", path)
		require.NotContains(t, v.raw, "<b>x</b>", path)
		require.NotContains(t, v.text(), "\u202e", path)
		require.NotContains(t, v.raw, "<img src=x>", path)
	}
	v.open(link("/match", "target", name, "client", of)).send("/match", "max-pigments", "2").sees("chance within tolerance", "<script>")
	v.open("/pour/P1").send("/approve", "by", `</p><script src=//x>`).sees(`</p><script src=//x>`)
	require.NotContains(t, v.raw, "<script src=//x>")
}

// TestWithoutClient: a target without a client keeps its page, its match and its
// approval when a client has one of its name.
func TestWithoutClient(t *testing.T) {
	v := visit(t, workedBench(t), nil)
	v.open("/targets").send("/target", "name", lamp, "lab", "60,-5,2", "illuminant", "D65/10").sees("60.00 -5.00 2.00")
	require.Equal(t, link("/target", "name", lamp), v.at.RequestURI())
	v.open(link("/target", "name", lamp, "client", client)).sees("66.4", client)
	v.open("/targets").sees("No client", client)
	v.open(link("/match", "target", lamp)).send("/match", "max-pigments", "2").sees("60.00 -5.00 2.00", "chance within tolerance")
	recipe := attr(find(v.page, func(n *html.Node) bool { return attr(n, "class") == "button main" }), "href")
	v.open(recipe)
	require.Contains(t, v.links(), link("/target", "name", lamp))
}

// TestConflict: a form that was read before somebody else changed its card is not
// stored over it; it says who changed what and shows both.
func TestConflict(t *testing.T) {
	v := visit(t, workedBench(t), nil)
	w := v.another()
	v.open("/resin?code=CLR")
	w.open("/resin?code=CLR").send("/shelf/resin", "max-phr", "5").sees("100:90")
	v.send("/shelf/resin", "max-phr", "6", "note", "mine")
	require.Equal(t, http.StatusConflict, v.status)
	require.Len(t, v.wrongs(), 1)
	require.Contains(t, v.wrongs()[0], "was changed by ada")
	v.sees("on the bench now: 5", "all the same")
	v.send("/shelf/resin")
	require.Equal(t, http.StatusOK, v.status, v.text())
	_, now, _ := v.open("/resin?code=CLR").filled("/shelf/resin")
	require.Equal(t, "6", now.Get("max-phr"))
	require.Equal(t, "mine", now.Get("note"))

	// what is there is replaced as it was shown, not what came after
	v.open("/targets").send("/target", "name", lamp, "client", client, "lab", "60,1,2", "part", "housing")
	require.Equal(t, http.StatusConflict, v.status)
	w.open("/targets").send("/target", "name", lamp, "client", client, "lab", "60,1,3", "part", "shade")
	w.send("/target", "replace", "yes")
	require.Equal(t, http.StatusOK, w.status, w.text())
	v.send("/target", "replace", "yes")
	require.Equal(t, http.StatusConflict, v.status)
	require.Contains(t, v.wrongs()[0], "was changed by ada")
	v.sees("on the bench now: shade")
	v.send("/target").sees("part housing", "60.00 1.00 2.00")
	require.Equal(t, http.StatusOK, v.status)

	v.open("/shelf").send("/shelf/lot", "code", "FG", "lot", "K-2207", "grams", "500")
	require.Equal(t, http.StatusConflict, v.status)
	w.open("/shelf").send("/shelf/lot", "code", "FG", "lot", "K-2207", "grams", "700")
	w.send("/shelf/lot", "replace", "yes").sees("K-2207")
	v.send("/shelf/lot", "replace", "yes").sees("on the bench now: 700")
	require.Equal(t, http.StatusConflict, v.status)
}

// TestOnce: a form that is sent twice, at once or one after the other, does a thing
// once; a form shown anew does it again.
func TestOnce(t *testing.T) {
	b := workedBench(t)
	now := time.Now()
	v := visit(t, b, func(o *page.Options) { o.Now = func() time.Time { return now } })
	all := []string{}
	for _, l := range lines(t, b, "B1") {
		all = append(all, "s."+l.item, l.grams)
	}
	v.open(link("/batch/B1", all...)).sees("All is in").send("/pour", "room", "23")
	require.Equal(t, "/pour/P2", v.at.Path)
	v.open(link("/batch/B1", all...)).send("/pour", "room", "23")
	require.Equal(t, http.StatusConflict, v.status, "the same pour was recorded within a minute")
	to, values, _ := v.filled("/pour", "again", "yes")
	before := logged(t, b)
	answers := make(chan string, 5)
	for range cap(answers) {
		go func() {
			r, err := v.client.PostForm(to, values)
			if err != nil {
				answers <- err.Error()
				return
			}
			r.Body.Close()
			answers <- r.Request.URL.Path
		}()
	}
	for range cap(answers) {
		require.Equal(t, "/pour/P3", <-answers)
	}
	require.Equal(t, before+1, logged(t, b))
	v.open(link("/batch/B1", all...)).send("/pour", "room", "23").send("/pour", "again", "yes")
	require.Equal(t, "/pour/P4", v.at.Path)
	values.Del("key")
	r, err := v.client.PostForm(to, values)
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, http.StatusBadRequest, r.StatusCode, "a form without a key")
	require.Equal(t, before+2, logged(t, b))
}

// A weighed line of a sheet, as fields have it.
type weighed struct{ item, grams string }

func lines(t testing.TB, b *workbench.Bench, batch string) []weighed {
	sheet, _, err := workbench.ShowBatch(t.Context(), b, batch, nil)
	require.NoError(t, err)
	var out []weighed
	for _, l := range sheet.Lines {
		out = append(out, weighed{l.Item, l.Grams.At(sheet.Step)})
	}
	return out
}

// TestStrangers: what comes from elsewhere, is not asked for by this server's name,
// or is too large, is refused before it does anything.
func TestStrangers(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	before := logged(t, b)
	v.open("/recipe/R1")
	to, values, _ := v.filled("/batch", "grams", "250")
	send := func(method, to, body string, change func(*http.Request)) *visitor {
		r, err := http.NewRequestWithContext(t.Context(), method, to, strings.NewReader(body))
		require.NoError(t, err)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if change != nil {
			change(r)
		}
		return v.took(v.client.Do(r))
	}
	for name, c := range map[string]struct {
		body   string
		change func(*http.Request)
		status int
	}{
		"another host":   {values.Encode(), func(r *http.Request) { r.Host = "evil.example" }, 421},
		"another origin": {values.Encode(), func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, 403},
		"another site":   {values.Encode(), func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403},
		"too large":      {"note=" + strings.Repeat("x", 300<<10), nil, 413},
		"no form":        {"%zz", nil, 400},
		"no key":         {"grams=250&recipe=R1", nil, 400},
	} {
		send(http.MethodPost, to, c.body, c.change)
		require.Equal(t, c.status, v.status, name)
	}
	send(http.MethodDelete, v.site.URL+"/recipe/R1", "", nil)
	require.GreaterOrEqual(t, v.status, 400)
	send(http.MethodGet, v.site.URL+"/?"+strings.Repeat("x", 9<<10), "", nil)
	require.Equal(t, http.StatusRequestURITooLong, v.status)
	require.Equal(t, before, logged(t, b), "nothing was stored")

	r, err := v.client.Get(v.site.URL + "/")
	require.NoError(t, err)
	r.Body.Close()
	policy := r.Header.Get("Content-Security-Policy")
	require.Contains(t, policy, "default-src 'none'")
	require.NotContains(t, policy, "unsafe")
	require.Equal(t, "nosniff", r.Header.Get("X-Content-Type-Options"))
	v.open("/")
	require.NotContains(t, v.raw, "<style")
	require.NotContains(t, v.raw, " style=")
	require.NotContains(t, v.raw, " onclick=")
}

// TestGate: who is elsewhere needs the passcode and says a name, which the log has;
// tries are counted, and who leaves is out.
func TestGate(t *testing.T) {
	b := workedBench(t)
	now := time.Date(2026, 11, 29, 8, 0, 0, 0, time.UTC)
	v := visit(t, b, func(o *page.Options) {
		page.Cheap(o)
		o.Passcode = "open-says-me"
		o.Now = func() time.Time { return now }
	})
	v.open("/recipe/R1")
	require.Equal(t, "/enter", v.at.Path)
	require.NotContains(t, v.raw, "Archive", "nothing is told to strangers")
	require.NotContains(t, v.raw, "bench.db")
	for _, path := range []string{"/changes", "/mix/color?resin=CLR"} {
		require.Equal(t, http.StatusUnauthorized, v.another().open(path).status, path)
	}
	r, err := v.client.PostForm(v.site.URL+"/batch", url.Values{"recipe": {"R1"}, "grams": {"250"}, "key": {"k"}})
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, http.StatusUnauthorized, r.StatusCode)

	v.send("/enter", "who", "", "passcode", "x").sees("“Your name” is missing")
	v.send("/enter", "who", strings.Repeat("ж", 61), "passcode", "x").sees("longer than 60 letters")
	v.send("/enter", "who", strings.Repeat("x", 20<<10), "passcode", "x").sees("larger than the 16 KB")
	require.Equal(t, http.StatusRequestEntityTooLarge, v.status)
	v.open("/recipe/R1")
	v.send("/enter", "who", strings.Repeat("ж", 60), "passcode", "").sees("“Passcode” is missing")
	v.send("/enter", "who", "Bo <i>", "passcode", "open-says-you").sees("is wrong")
	require.Equal(t, http.StatusForbidden, v.status)
	v.send("/enter", "passcode", "open-says-me").sees("Recipe R1")
	require.Equal(t, "/recipe/R1", v.at.Path, "where they wanted to go")
	cookies := v.client.Jar.Cookies(v.at)
	require.Len(t, cookies, 1)
	v.send("/batch", "grams", "250")
	log, err := workbench.Log(t.Context(), b, workbench.LogRequest{Limit: 1})
	require.NoError(t, err)
	require.Equal(t, "Bo <i>", log.Log[0].Who)
	require.Contains(t, log.Log[0].Program, "page from 127.0.0.1")

	// a way out that leads elsewhere is not followed
	w := v.another()
	w.open("/enter?to=//evil.example/").send("/enter", "who", "Cy", "passcode", "open-says-me")
	require.Equal(t, "/", w.at.Path)
	require.Equal(t, v.site.URL, w.at.Scheme+"://"+w.at.Host)

	// who guesses has to wait
	guesser := v.another()
	guesser.open("/enter")
	for range 8 {
		guesser.send("/enter", "who", "Di", "passcode", "guess")
		require.Equal(t, http.StatusForbidden, guesser.status)
	}
	guesser.send("/enter", "who", "Di", "passcode", "open-says-me").sees("wait ten minutes")
	require.Equal(t, http.StatusTooManyRequests, guesser.status)
	require.Equal(t, http.StatusOK, v.open("/").status, "who is in stays in")
	now = now.Add(11 * time.Minute)
	guesser.send("/enter", "who", "Di", "passcode", "open-says-me").sees("Today")

	// who leaves hears no more of what others do
	stream, err := v.client.Get(v.site.URL + "/changes?after=0")
	require.NoError(t, err)
	defer stream.Body.Close()
	require.Equal(t, http.StatusOK, stream.StatusCode)
	hears := bufio.NewReader(stream.Body)
	_, err = hears.ReadString('\n')
	require.NoError(t, err)
	v.open("/").send("/leave")
	_, err = io.ReadAll(hears)
	require.NoError(t, err, "the stream has ended")
	require.Equal(t, "/enter", v.open("/recipe/R1").at.Path)
	v.client.Jar.SetCookies(v.at, cookies) // kept by somebody
	require.Equal(t, "/enter", v.open("/recipe/R1").at.Path)
	now = now.Add(8 * 24 * time.Hour)
	require.Equal(t, "/enter", guesser.open("/").at.Path, "a browser that was not used for long")
}

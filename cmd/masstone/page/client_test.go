package page_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"masstone/cmd/masstone/page"
	"masstone/color"
	"masstone/recipes/workbench"
)

// TestClientLink: who has a link sees one approval, its colours and its
// certificate, without a passcode; no recipe, no other page, and nothing once the
// link is closed or past its day.
func TestClientLink(t *testing.T) {
	b := workedBench(t)
	now := time.Now()
	var logged []string
	v := visit(t, b, func(o *page.Options) {
		o.Passcode, o.Now, o.Shop = "open-says-me", func() time.Time { return now }, []string{"Kelp & Sons"}
		o.Log = func(format string, a ...any) { logged = append(logged, format) }
	})
	made := func(days string) (address string) {
		v.open(link("/approval", "target", lamp, "client", client)).send("/approval/link", "for", "J. Brandt", "days", days).sees("it is shown this once")
		address = attr(find(v.page, byID("address")), "value")
		require.True(t, strings.HasPrefix(address, v.site.URL+"/client/"), address)
		return strings.TrimPrefix(address, v.site.URL)
	}
	v.open("/").send("/enter", "who", "Bo", "passcode", "open-says-me")
	_, err := workbench.AddTarget(t.Context(), b, workbench.AddTargetRequest{Name: lamp, Client: "Gannet Boats", Readings: workbench.Readings{Typed: []string{"60,1,2"}, Condition: color.D65Ten()}})
	require.NoError(t, err)
	address := made("3")
	token := strings.TrimPrefix(address, "/client/")
	require.GreaterOrEqual(t, len(token), 26, "5 bits a letter (RFC 4648, 6): 128 bits and more")
	log, err := workbench.Log(t.Context(), b, workbench.LogRequest{Limit: 1})
	require.NoError(t, err)
	require.Equal(t, "Bo", log.Log[0].Who)
	require.Equal(t, "client link made", log.Log[0].Verb)
	require.Contains(t, log.Log[0].Program, "page from 127.0.0.1")
	all, err := json.Marshal(log)
	require.NoError(t, err)
	require.NotContains(t, string(all), token, "only its hash is kept")

	// a stranger with the link
	c := v.another().open(address)
	require.Equal(t, http.StatusOK, c.status, c.text())
	c.sees(lamp+" v1", client, "J. Brandt", "Kelp & Sons", "D65/10", "66.30 -10.30 -2.50", "Difference, CIEDE2000", "Checksum")
	recipe, err := workbench.ShowRecipe(t.Context(), b, "R1")
	require.NoError(t, err)
	for code := range recipe.Loadings {
		require.NotContains(t, words(c.page), code+" ", "the recipe is the shop's")
	}
	for _, secret := range []string{"phr", "R1", "P1", "K-2207", "bench.db", "/recipe", "Archive", "page.js"} {
		require.NotContains(t, c.raw, secret)
	}
	for _, to := range c.links() {
		require.True(t, to == "/asset/page.css" || to == address+"/certificate.pdf", to)
	}
	r, err := c.client.Get(v.site.URL + address)
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, "no-referrer", r.Header.Get("Referrer-Policy"))
	require.Equal(t, "no-store", r.Header.Get("Cache-Control"))
	require.Contains(t, r.Header.Get("X-Robots-Tag"), "noindex")
	require.Contains(t, r.Header.Get("Content-Security-Policy"), "default-src 'none'")
	require.Empty(t, r.Header.Get("Set-Cookie"))
	said := strings.Fields(pdfText(t, c.open(address+"/certificate.pdf").raw))
	require.Subset(t, said, []string{"“Harbour", "lamp", "Tern", "Lighting", "P1"}, "whose part it is")
	for _, secret := range []string{"phr", "R1", "K-2207", "v1", "Gannet", "Boats"} {
		require.NotContains(t, said, secret, "the recipe is the shop's, other clients are nobody's business")
	}
	for code := range recipe.Loadings {
		require.NotContains(t, said, code)
	}

	// it opens nothing else, is only looked at, and by this server's name
	for _, other := range []string{"/", "/archive", "/recipe/R1", "/links", "/pour/P1/certificate/paper.pdf", link("/approval", "target", lamp, "client", client), "/changes"} {
		c.open(other)
		require.True(t, c.at.Path == "/enter" || c.status == http.StatusUnauthorized, "%s: %d at %s", other, c.status, c.at)
	}
	for _, other := range []string{address + "/recipe", address + "/..%2frecipe%2fR1", "/client/", "/client/" + strings.ToLower(token), "/client/" + token[1:], "/client/%27%20OR%201=1"} {
		require.Equal(t, http.StatusNotFound, c.open(other).status, other)
		c.sees("not valid")
	}
	w, err := c.client.PostForm(v.site.URL+address, nil)
	require.NoError(t, err)
	w.Body.Close()
	require.Equal(t, http.StatusMethodNotAllowed, w.StatusCode)
	foreign, err := http.NewRequestWithContext(t.Context(), http.MethodGet, v.site.URL+address, nil)
	require.NoError(t, err)
	foreign.Host = "evil.example"
	require.Equal(t, http.StatusMisdirectedRequest, c.took(c.client.Do(foreign)).status)

	// who guesses is told to wait, who has the link is not
	for range 9 {
		c.open("/client/AAAAAAAAAAAAAAAAAAAAAAAAAA")
	}
	require.Equal(t, http.StatusTooManyRequests, c.status)
	require.Equal(t, http.StatusOK, c.open(address).status)
	require.Contains(t, strings.Join(logged, "\n"), "not valid")

	// closed, or past its day
	second := made("30")
	v.open("/links").sees("J. Brandt", "Close it")
	now = now.Add(3*24*time.Hour + time.Second)
	c.open(address).sees("not valid")
	require.Equal(t, http.StatusNotFound, c.status)
	require.Equal(t, http.StatusNotFound, c.open(address+"/certificate.pdf").status)
	require.Equal(t, http.StatusOK, c.open(second).status)
	v.open("/links").sees("past its day").send("/links/close").sees("closed")
	require.Equal(t, http.StatusNotFound, c.open(second).status)
	list, err := workbench.ClientLinks(t.Context(), b)
	require.NoError(t, err)
	require.Len(t, list.Links, 2)
	require.Equal(t, "closed", list.Links[0].Closed)
	log, err = workbench.Log(t.Context(), b, workbench.LogRequest{Limit: 1})
	require.NoError(t, err)
	require.Equal(t, "client link closed", log.Log[0].Verb)

	for _, wrong := range []string{"0", "0.5", "-1", "400", "1e300", "soon"} {
		v.open(link("/approval", "target", lamp, "client", client)).send("/approval/link", "days", wrong)
		require.Equal(t, http.StatusUnprocessableEntity, v.status, wrong)
		require.Len(t, v.wrongs(), 1, wrong)
	}
}

// pdfText is what a PDF of the program says; its fonts are encoded in UTF-16.
func pdfText(t testing.TB, data string) string {
	t.Helper()
	r, err := pdf.NewReader(strings.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var all strings.Builder
	for n := 1; n <= r.NumPage(); n++ {
		pdf.Interpret(r.Page(n).V.Key("Contents"), func(stack *pdf.Stack, op string) {
			for stack.Len() > 0 {
				raw := stack.Pop().RawString()
				if op != "Tj" {
					continue
				}
				codes := make([]uint16, len(raw)/2)
				for i := range codes {
					codes[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
				}
				all.WriteString(string(utf16.Decode(codes)) + "\n")
			}
		})
	}
	return all.String()
}

// byID finds an element by its id.
func byID(id string) func(*html.Node) bool {
	return func(n *html.Node) bool { return attr(n, "id") == id }
}

package workbench

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

// TestClientLinks: a link shows the approval it was made for, also once there is a
// newer one, until it is closed or past its day; who guesses is told always the same.
func TestClientLinks(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	addLots(t, b, "WH", "K-77")
	good := addPour(t, b, r, map[string]string{"WH": "K-77"})
	readPour(t, b, good.Pour, lamp())
	_, err := LinkApproval(t.Context(), b, ClientLinkRequest{Target: "lamp", Days: UsualLinkDays})
	require.ErrorContains(t, err, "it has none yet")
	_, err = Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{good.Pour}, By: "J. Brandt", Note: "ours alone"})
	require.NoError(t, err)
	for _, days := range []int{-1, 0, 367, 1e9} {
		_, err = LinkApproval(t.Context(), b, ClientLinkRequest{Target: "lamp", Days: days})
		require.ErrorContains(t, err, "1 to 366")
	}
	_, err = LinkApproval(t.Context(), b, ClientLinkRequest{Target: "lamp", Version: 9, Days: 1})
	require.ErrorContains(t, err, "version 9")
	none, err := ClientLinks(t.Context(), b)
	require.NoError(t, err)
	require.Empty(t, none.Links)

	made, err := LinkApproval(t.Context(), b, ClientLinkRequest{Target: "lamp", For: "Bo", Days: 2})
	require.NoError(t, err)
	other, err := LinkApproval(t.Context(), b, ClientLinkRequest{Target: "lamp", Days: UsualLinkDays})
	require.NoError(t, err)
	require.NotEqual(t, made.Token, other.Token)
	require.Equal(t, "client/"+made.Token, made.Path)
	_, err = Approve(t.Context(), b, ApproveRequest{Recipe: r.ID()})
	require.NoError(t, err)
	v, err := SeeAsClient(t.Context(), b, made.Token)
	require.NoError(t, err)
	require.Equal(t, "lamp v1", v.Approval)
	require.Equal(t, "J. Brandt", v.By)
	require.True(t, v.Poured)
	require.Equal(t, typed(partOf(lamp())), typed(v.Colors[0].Color()))
	require.NotEmpty(t, v.Wanted)
	text, err := json.Marshal(v)
	require.NoError(t, err)
	for _, ours := range []string{"ours alone", "phr", r.ID(), good.Pour, "WH"} {
		require.NotContains(t, string(text), ours)
	}
	paper, err := ClientCertificate(t.Context(), b, made.Token, []string{"Kelp"})
	require.NoError(t, err)
	require.Equal(t, []any{"lamp", "Tern", good.Pour}, []any{paper.Target, paper.Client, paper.Pour})
	for _, format := range []papers.Format{papers.Text, papers.JSON} {
		var out strings.Builder
		require.NoError(t, papers.Write(&out, paper, format, papers.Options{}))
		for _, ours := range []string{"ours alone", "phr", r.ID(), "WH", "K-77", testResin + " v"} {
			require.NotContains(t, out.String(), ours, "%s: what tells of the recipe", format)
		}
	}
	whole, err := Certificate(t.Context(), b, CertificateRequest{What: good.Pour})
	require.NoError(t, err)
	require.Equal(t, []papers.Lot{{Of: "WH", Lot: "K-77"}}, whole.Lots, "the shop's own has them")

	for _, guess := range []string{"", made.ID, made.Token[1:], made.Token + "A", "'; DROP TABLE client_link", hashOf(made.Token)} {
		_, err = SeeAsClient(t.Context(), b, guess)
		require.ErrorIs(t, err, ErrNoClientLink, guess)
		_, err = ClientCertificate(t.Context(), b, guess, nil)
		require.ErrorIs(t, err, ErrNoClientLink, guess)
	}
	closed, err := CloseClientLink(t.Context(), b, CloseClientLinkRequest{ID: other.ID, Why: "sent astray"})
	require.NoError(t, err)
	require.False(t, closed.Valid)
	again, err := CloseClientLink(t.Context(), b, CloseClientLinkRequest{ID: other.ID, Why: "once more"})
	require.NoError(t, err)
	require.Equal(t, "sent astray", again.Closed)
	_, err = CloseClientLink(t.Context(), b, CloseClientLinkRequest{ID: "nobody"})
	require.ErrorContains(t, err, `unknown client link "nobody"`)
	_, err = SeeAsClient(t.Context(), b, other.Token)
	require.ErrorIs(t, err, ErrNoClientLink)

	until, err := time.Parse(time.RFC3339, made.Until)
	require.NoError(t, err)
	for at, valid := range map[time.Time]bool{until.Add(-time.Second): true, until: false, until.Add(time.Hour): false} {
		_, err = SeeAsClient(t.Context(), b.With(Options{Now: func() time.Time { return at }}), made.Token)
		require.Equal(t, valid, err == nil, at)
	}
	list, err := ClientLinks(t.Context(), b)
	require.NoError(t, err)
	require.Len(t, list.Links, 2)

	// what is stored is the SHA-256 of the token and never the token
	l, err := b.archive.ClientLinkID(t.Context(), made.ID)
	require.NoError(t, err)
	require.Len(t, l.Hash, 64)
	require.NotContains(t, l.Hash, made.Token)
	_, err = b.archive.PutClientLink(t.Context(), archive.ClientLink{Hash: made.Token, Approval: l.Approval, Until: l.Until})
	require.ErrorContains(t, err, "no SHA-256")
}

// TestClientLinkOfNobody: a link to an approval of no client's still shows it once a
// client has a target of that name.
func TestClientLinkOfNobody(t *testing.T) {
	b := newBench(t)
	_, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "buoy", Readings: Readings{Typed: []string{typed(partOf(lamp()))}, Condition: color.D65Ten()}})
	require.NoError(t, err)
	target, err := b.archive.Target(t.Context(), "", "buoy")
	require.NoError(t, err)
	r := addRecipe(t, b, target, testResin, lamp())
	p := addPour(t, b, r, nil)
	readPour(t, b, p.Pour, lamp())
	_, err = Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{p.Pour}})
	require.NoError(t, err)
	made, err := LinkApproval(t.Context(), b, ClientLinkRequest{Target: "buoy", Days: 366})
	require.NoError(t, err)
	addTarget(t, b, "buoy", lamp())
	v, err := SeeAsClient(t.Context(), b, made.Token)
	require.NoError(t, err)
	require.Equal(t, "buoy v1", v.Approval)
	paper, err := ClientCertificate(t.Context(), b, made.Token, nil)
	require.NoError(t, err)
	require.Equal(t, p.Pour, paper.Pour)
	require.Empty(t, paper.Client)
}

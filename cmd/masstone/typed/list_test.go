package typed_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"masstone/cmd/masstone/typed"
)

// TestLists: a list goes in after what is there already, and one with a fault says
// what it is. The way to write them is that of this program, no source.
func TestLists(t *testing.T) {
	loadings := func(text string) (any, error) {
		into := map[string]float64{"WH": 1}
		return into, typed.Loadings(into, typed.PHR, text)
	}
	lots := func(text string) (any, error) {
		into := map[string]string{"WH": "7"}
		return into, typed.Lots(into, text)
	}
	limits := func(text string) (any, error) {
		into := map[string]float64{"L": 1}
		return into, typed.Limits(into, text)
	}
	for _, c := range []struct {
		read func(string) (any, error)
		text string
		want any
	}{
		{loadings, "RD=0.2, BK = 0.01", map[string]float64{"WH": 1, "RD": 0.2, "BK": 0.01}},
		{lots, "RD=L123, BK = K-1", map[string]string{"WH": "7", "RD": "L123", "BK": "K-1"}},
		{limits, "a=0.5,db*=0.4,c=2", map[string]float64{"L": 1, "a": 0.5, "b": 0.4, "C": 2}},
	} {
		got, err := c.read(c.text)
		assert.NoError(t, err, c.text)
		assert.Equal(t, c.want, got, c.text)
	}
	for _, c := range []struct {
		read       func(string) (any, error)
		text, says string
	}{
		{loadings, "RD", "is no list of amounts"}, {loadings, "=1", "is no list of amounts"}, {loadings, "RD=0,2", "decimal comma"}, {loadings, "RD=x", "RD=x"},
		{loadings, "RD=1,RD=2", "names RD twice"}, {loadings, "RD=1,WH=2", "names WH twice"},
		{lots, "RD", "is no lot"}, {lots, "RD=", "is no lot"}, {lots, "RD=1,RD=2", "names RD twice"}, {lots, "WH=8", "names WH twice"},
		{limits, "q=1", "is no list of limits"}, {limits, "a", "a="}, {limits, "a=x", "a=x"}, {limits, "a=1,da*=2", "limits a twice"}, {limits, "l=2", "limits L twice"},
	} {
		_, err := c.read(c.text)
		assert.ErrorContains(t, err, c.says, c.text)
	}
	into, err := loadings("RD=1,WH=2")
	assert.Error(t, err)
	assert.Equal(t, map[string]float64{"WH": 1}, into, "nothing of a list with a fault")
}

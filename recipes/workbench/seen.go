package workbench

import (
	"fmt"

	"masstone/recipes/archive"
)

// checkSeen refuses to change a card that another one superseded since the
// request was made. seen is the Ref of the card the request was made from, ""
// where it was made from none; what names the card.
func checkSeen(what, seen string, now archive.Stamp) error {
	if seen == "" || seen == now.Ref {
		return nil
	}
	return meanwhile(what, "changed", now)
}

// meanwhile is the conflict with who did something to a card after a request
// was made from it.
func meanwhile(what, did string, now archive.Stamp) error {
	return &Error{Conflict, "", fmt.Errorf("%s was %s by %s on %s UTC, after it was read for this; look at it and do this again, nothing was stored", what, did, now.Who, now.At.UTC().Format("2006-01-02 15:04:05"))}
}

package control

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"

	"padjig/cmd/padjig/station"
)

// Codes of jigs and of products, for a scanner. Behind their beginnings stand digits made
// from the name, because every keyboard's layout has those in one place and few have "-"
// there; and a letter, so that the tail of a scan that was cut is no number of a unit.
const (
	JigBegins     = "PJJ0"
	ProductBegins = "PJP0"
	codeEnds      = "P"
	codeDigits    = 10
)

// CodeOf is the code of the jig, or the product, of a name.
func CodeOf(begins, name string) string {
	sum := sha256.Sum256([]byte(name))
	return fmt.Sprintf("%s%0*d%s", begins, codeDigits, binary.BigEndian.Uint64(sum[:])%1e10, codeEnds)
}

// IsCode reports whether a scan began as the code of a jig or of a product.
func IsCode(text string) bool {
	return strings.HasPrefix(text, JigBegins) || strings.HasPrefix(text, ProductBegins)
}

// JigName is what a lane's jig is called: its serial number, once it was there.
func JigName(s station.State) string {
	if s.Jig.Serial == "" {
		return s.Jig.Name
	}
	return s.Jig.Serial
}

// OfCode is the lane whose jig has this code, from 1; 0 where none of the station's has it.
func (l *Lanes) OfCode(text string) int {
	for i, lane := range l.all {
		if CodeOf(JigBegins, JigName(lane.State())) == text {
			return i + 1
		}
	}
	return 0
}

package web

import (
	"net/url"
	"strings"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/lane"
	"padjig/cmd/padjig/web/page"
	"padjig/results/fails"
)

// scans takes whatever a scanner read, on whichever page: a badge, a command, the
// code of a tag or of a fail place, or the serial number of a unit.
type scans struct {
	door *door.Door
	lane *lane.Pages
}

func (s scans) set() page.Set { return page.Set{Actions: []page.Action{{Path: "/scan", Do: s.scan}}} }

func (s scans) scan(v *page.Visit) (page.Answer, error) {
	text := v.Text("text")
	command, is := strings.CutPrefix(text, lane.CommandPrefix)
	switch {
	case account.IsBadge(text):
		return s.door.ByBadge(v, text)
	case v.Person == nil && account.IsMisreadBadge(text), strings.HasPrefix(text, account.BadgePrefix):
		return page.Answer{}, page.Refused(v.Say("door.badge"))
	case v.Person == nil:
		return page.Answer{}, page.Refused(v.Say("door.first"))
	case is && command == lane.Left:
		return page.Answer{Go: door.Path}, s.door.Leave(v)
	case strings.HasPrefix(text, control.JigBegins):
		return s.lane.Which.Jig(v, text)
	case lane.IsProduct(text):
		return s.lane.Change.Product(v, text)
	case fails.IsCode(text):
		return s.lane.Place(v, text)
	case is:
		return s.lane.Command(v, command)
	}
	if err := s.lane.NoTag(v, text); err != nil { // the number of a unit in place of its tag starts no test
		return page.Answer{}, err
	}
	if v.Value("lane") != "" {
		return page.Answer{}, s.lane.Scan(v, text)
	}
	if isFirstScreen(v.Value("next")) {
		return s.lane.Which.Choose(v, text)
	}
	return lookUp(v, text)
}

// lookUps takes what a scanner read where no unit is tested: a badge, or the number of a unit.
type lookUps struct{ door *door.Door }

func (l lookUps) set() page.Set { return page.Set{Actions: []page.Action{{Path: "/scan", Do: l.scan}}} }

func (l lookUps) scan(v *page.Visit) (page.Answer, error) {
	text := v.Text("text")
	command, is := strings.CutPrefix(text, lane.CommandPrefix)
	switch {
	case account.IsBadge(text):
		return l.door.ByBadge(v, text)
	case v.Person == nil && account.IsMisreadBadge(text), strings.HasPrefix(text, account.BadgePrefix):
		return page.Answer{}, page.Refused(v.Say("door.badge"))
	case v.Person == nil:
		return page.Answer{}, page.Refused(v.Say("door.first"))
	case is && command == lane.Left:
		return page.Answer{Go: door.Path}, l.door.Leave(v)
	case is, control.IsCode(text), lane.IsProduct(text), fails.IsCode(text):
		return page.Answer{}, page.Wrong(v.Say("office.scan", text))
	case !v.Person.HasRole(desk.People):
		return page.Answer{Go: findPath + "?part=" + url.QueryEscape(text)}, nil
	}
	return page.Answer{Go: desk.UnitAddress(text)}, nil
}

// isFirstScreen reports whether an address is that of all lanes, which cannot know in which
// one a unit lies: it asks.
func isFirstScreen(address string) bool {
	path, _, _ := strings.Cut(page.Here(address), "?")
	return path == lane.All
}

// lookUp does what any page but a lane's has a serial number scanned for. Who may look
// nothing up came to test.
func lookUp(v *page.Visit, serial string) (page.Answer, error) {
	if !v.Person.HasRole(desk.People) {
		return page.Answer{}, page.Wrong(v.Say("scan.nolane", serial))
	}
	return page.Answer{Go: desk.UnitAddress(serial)}, nil
}

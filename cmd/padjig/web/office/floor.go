package office

import (
	"strconv"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/floor"
)

// FloorPath is where the lots in use are, and ShiftsPath the shifts, as at a station.
const (
	FloorPath  = "/lots"
	ShiftsPath = "/shifts"
)

// Floor is which lots the stations use.
type Floor struct {
	Choice
	Materials []string `json:"-"` // heads, in their order
	InUse     []InUse  `json:"in_use"`
	Changes   []Change `json:"changes"` // newest first
	Plans     bool     `json:"-"`       // whoever looks may see the shifts
}

// Choice is which station is looked at.
type Choice struct {
	Path     string        `json:"-"`
	Station  int           `json:"station"` // its number, 0 for all
	Stations []page.Option `json:"-"`
}

// InUse are the lots of a jig and a product.
type InUse struct {
	Station   string    `json:"station"`
	Jig       string    `json:"jig"`
	Product   string    `json:"product"`
	Simulated bool      `json:"simulated"`
	Lots      []string  `json:"lots"` // in the order of the materials, empty where none is known
	By        string    `json:"by"`
	At        time.Time `json:"at,omitzero"`
}

// Change is one changeover.
type Change struct {
	Station string    `json:"station"`
	Jig     string    `json:"jig"`
	Product string    `json:"product"`
	Lots    []string  `json:"lots"` // those that were new
	By      string    `json:"by"`
	At      time.Time `json:"at,omitzero"`
}

// shownChanges is how many changeovers are shown.
const shownChanges = 100

// choice reads which station is looked at; one that there is not is none.
func (p *Plant) choice(v *page.Visit, path string) (Choice, error) {
	c := Choice{Path: path, Stations: []page.Option{{Text: v.Say("conflicts.anystation")}}}
	list, err := p.Records.Plant.Stations(v.Ctx())
	for _, s := range list {
		number := strconv.Itoa(s.Member)
		chosen := v.Text("station") == number
		if chosen {
			c.Station = s.Member
		}
		c.Stations = append(c.Stations, page.Option{Value: number, Text: s.Name, Chosen: chosen})
	}
	return c, err
}

func (p *Plant) lots(v *page.Visit) (any, error) {
	c, err := p.choice(v, FloorPath)
	if err != nil {
		return nil, err
	}
	out := Floor{Choice: c, InUse: []InUse{}, Changes: []Change{}, Plans: v.Person.HasRole(page.Deciding)}
	for _, material := range floor.Materials {
		out.Materials = append(out.Materials, v.Say("ask.material."+material))
	}
	list, err := p.Records.Plant.LotChanges(v.Ctx(), c.Station, shownChanges)
	for i, l := range list {
		if l.Newest {
			one := InUse{Station: l.Station, Jig: l.Jig, Product: l.Product, Simulated: l.Simulated, By: l.By, At: l.At}
			for _, material := range floor.Materials {
				one.Lots = append(one.Lots, l.Now[material])
			}
			out.InUse = append(out.InUse, one)
		}
		if i >= shownChanges {
			continue
		}
		one := Change{Station: l.Station, Jig: l.Jig, Product: l.Product, By: l.By, At: l.At, Lots: []string{}}
		for _, material := range floor.Materials {
			if l.Now[material] != l.Before[material] {
				one.Lots = append(one.Lots, v.Say("ask.material."+material)+" "+l.Now[material])
			}
		}
		out.Changes = append(out.Changes, one)
	}
	return out, err
}

// Shifts are when the shifts of the stations are.
type Shifts struct {
	Choice
	Plans []Plan `json:"plans"`
}

// Plan is that of a station.
type Plan struct {
	Station string    `json:"station"`
	Zone    string    `json:"zone"`
	By      string    `json:"by"`
	At      time.Time `json:"at,omitzero"`
	Reason  string    `json:"reason"`
	Shifts  []string  `json:"shifts"`
}

func (p *Plant) shifts(v *page.Visit) (any, error) {
	c, err := p.choice(v, ShiftsPath)
	if err != nil {
		return nil, err
	}
	out := Shifts{Choice: c, Plans: []Plan{}}
	list, err := p.Records.Plant.Plans(v.Ctx(), c.Station)
	for _, of := range list {
		one := Plan{Station: of.Station, Zone: of.Zone, By: of.By, At: of.At, Reason: of.Reason}
		for _, s := range of.Shifts {
			one.Shifts = append(one.Shifts, s.String())
		}
		out.Plans = append(out.Plans, one)
	}
	return out, err
}

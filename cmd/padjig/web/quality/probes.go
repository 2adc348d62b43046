package quality

import (
	"padjig/results/answers/probes"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// probesPage shows which probes of the jigs stand out.
func probesPage(s *study) error {
	p, err := probes.AskProbes(s.ctx, s.store, probes.ProbesAsked{Selection: s.about()})
	if err != nil {
		return err
	}
	title := s.Say("probes.title")
	t := s.TableOf(report.ProbeTable(p), title)
	for i, r := range p.Rows {
		t.Rows[i][0].Mark = len(r.Why) > 0
	}
	t.Open = true
	s.add(figure{Title: title, Says: tell(s.Words, p.Conclusions), Table: t,
		Chart: report.ProbesChart(p, s.frame("probes", title, s.Say("probes.desc"), 1000, 0), chart.Axis{Label: "%"})})
	s.show(s.Say("probes.tail.title"), report.TailTable(p), false)
	s.show(s.Say("probes.changes.title"), report.TipTable(p), true)
	return nil
}

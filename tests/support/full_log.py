"""One small log in which every field of the contract is filled in, and every kind of row stands."""

FULL = """\
unit: {name: Harbour 3 East, time_zone: America/Halifax, quiet_hours: "23:00-05:00",
  phone: ext. 4410, home_phone: 902-555-0144}
shift: {name: night, start: 2026-03-07 19:00, end: 2026-03-08 07:00,
  outgoing: M. Adeyemi RN, incoming: T. Baptiste RN}
patients:
- id: "10442"
  name: Larkspur, Odile
  born: 1958-04-02
  bed: 12A
  sex: female
  height_cm: 162
  weight_kg: 70.5
  language: es
  reason: open bowel surgery
  surgery_on: 2026-03-05
  precautions: flat, spine not cleared
  order: {start: 2026-03-06 10:00, stop: 2026-03-09 10:00, breaths: 12, every_h: 2,
    goal_ml: 1500, hold_s: 4, by: Dr T. Quill, spo2_min: 90, spo2_max: 96, resp_rate_min: 10,
    resp_rate_max: 28, pulse_min: 45, pulse_max: 125, temp_max: 38.4,
    usual_symptoms: [cough, confused], comfort_care: no}
  baseline_ml: 1900
  device: {given: 2026-03-06 10:20, labelled: yes, scale_ml: 2500}
  teaching: {taught: 2026-03-06 10:30, shown_back: no}
  home_on: 2026-03-10
- id: "10443"
  name: Bryony, Tam
  born: 1961-11-30
  bed: 12B
  order: {start: 2026-03-07 08:00}
  device: {given: yes}
  teaching: {taught: yes}
entries:
- {patient: "10442", at: 19:40, until: 19:50, breaths: 8, volume_ml: 1100, hold_s: 4.5,
   flow: steady, seen_by: nurse, position: sitting, pain: 4, symptoms: [dizzy, cough], spo2: 94,
   resp_rate: 18, pulse: 84, temp_c: 37.1, oxygen: 2 L nasal, note: sat up in chair}
- {patient: "10442", at: 20:00, until: 20:30, what: away, note: scan}
- {patient: "10442", at: 23:00, until: 2026-03-08 04:30, what: asleep}
- {patient: "10442", at: 21:00, what: declined, note: too sore, seen_by: aide, pain: 7}
- {patient: "10442", at: 21:10, what: told, about: [pain, dizzy], note: Dr Quill told,
   seen_by: nurse, spo2: 95}
- {patient: "10442", at: 21:20, what: hold, until: 2026-03-08 05:00, note: Dr Quill until the scan}
- {patient: "10442", at: 05:10, what: resume, note: Dr Quill}
- {patient: "10442", at: 05:20, what: settled, about: [dizzy], note: Dr Quill}
- {patient: "10442", at: 05:30, what: note, note: asked for water}
- {patient: "10442", at: 05:40, symptoms: none, on_oxygen: no, pulse: 80}
- {patient: "10443", at: 05:50, breaths: 5, seen_by: patient}
- {patient: "10443", at: 06:00, what: left, note: to ward 4}
"""

# The same, where the order of the second patient changed at 01:00.
CHANGED = FULL.replace(
    "  order: {start: 2026-03-07 08:00}\n",
    "  orders:\n  - {start: 2026-03-07 08:00, breaths: 10, every_h: 1, goal_ml: 900}\n"
    "  - {start: 2026-03-08 01:00, breaths: 5, every_h: 2, goal_ml: 700}\n",
).replace("entries:\n", 'entries:\n- {patient: "10443", at: 20:15, breaths: 9}\n')

/* What a new job begins with: sound as it stands, so that it is judged at once. */
export const newJob = `job: new sample
purpose: screening
dryer: bench-85
sample:
  composition: acetonitrile 20 %v/v, water
containers:
  - {type: vial_10R, count: 100, fill: 3 mL, place: shelf}
freezing:
  means: freezer
  temperature: -80 °C
recipe:
  - {time: 0 h, shelf_temperature: -45 °C}
  - {time: 10 h, shelf_temperature: -35 °C}
limits: {margin: 1 K, time: 96 h}
`;

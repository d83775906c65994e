/* What a new dryer begins with: sound as it stands. */
export const newDryer = `name: new dryer
chamber: {volume: 60 L, room_temperature: 21 °C, leak: 0.01 mbar L/s, control: none}
duct: {diameter: 90 mm, length: 0.2 m}
trap:
  refrigeration:
    - {temperature: -55 °C, power: 0 W}
    - {temperature: -45 °C, power: 400 W}
    - {temperature: -30 °C, power: 900 W}
  area: 0.2 m2
  volume: 12 L
  capacity: 6 kg
pump:
  kind: oil_sealed
  ultimate_pressure: 0.003 mbar
  solvent_limit: 250 g
  nominal_speed: 5 m3/h
shelf: {area: 0.5 m2, lowest: -50 °C, highest: 60 °C, contact: 8 W/m2/K, gas: 1.04 W/m2/K/Pa, gas_bend: 0.029 1/Pa}
reference_load:
  container: vial_10R
  count: 200
  fill: 3 mL
  place: shelf
  recipe:
    - {time: 0 h, shelf_temperature: -45 °C}
`;

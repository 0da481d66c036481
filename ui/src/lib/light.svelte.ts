// Day or night, as the person chose in this tab, else as the machine says.
const asked = matchMedia('(prefers-color-scheme: dark)')

class Light {
  dark = $state(sessionStorage.getItem('light') ? sessionStorage.getItem('light') === 'dark' : asked.matches)
  constructor() {
    asked.addEventListener('change', () => {
      if (!sessionStorage.getItem('light')) this.show(asked.matches)
    })
    this.show(this.dark)
  }
  show(dark: boolean): void {
    this.dark = dark
    document.documentElement.dataset.light = dark ? 'dark' : 'light'
  }
  turn(): void {
    this.show(!this.dark)
    sessionStorage.setItem('light', this.dark ? 'dark' : 'light')
  }
}
export const light = new Light()
